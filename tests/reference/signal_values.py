"""What scipy makes of some signals: the oracle for tests/reference_scipy_test.cpp.

usage: signal_values.py FOLDER

Writes one text file a case: a first line with the case's parameters, then one line a sample, input and expected
output. The signals are made here from a fixed seed, so that nothing has to be kept.
"""
import pathlib
import sys

try:
    import numpy as np
    import scipy.fft
    import scipy.signal
    import scipy.stats
except ImportError as missing:
    print(f"SKIPPED: comparison with scipy ({missing}; install python3-scipy)")
    sys.exit(77)

RATE_HZ = 5000.0


def cranking_like(samples: int) -> np.ndarray:
    """Humps on a falling level with noise: nothing of an engine, only the same frequencies."""
    chance = np.random.default_rng(20250101)
    t = np.arange(samples) / RATE_HZ
    return 180 + 400 * np.exp(-t / 0.05) + 30 * np.cos(2 * np.pi * 7.3 * t) + 5 * chance.standard_normal(samples)


def write(folder: pathlib.Path, name: str, parameters, columns) -> None:
    lines = [" ".join(repr(float(p)) for p in parameters)]
    lines += [" ".join(repr(float(v)) for v in row) for row in zip(*columns, strict=True)]
    (folder / f"{name}.txt").write_text("\n".join(lines) + "\n")


def main() -> None:
    folder = pathlib.Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("*.txt"):
        old.unlink()
    signal = cranking_like(2000)
    centred = signal - signal.mean()
    lags = scipy.signal.correlate(centred, centred, method="direct")[signal.size - 1:]
    lags = lags / lags[0] * signal.size / (signal.size - np.arange(signal.size))
    write(folder, "autocorrelation", (), (signal, lags))
    write(folder, "spectrum", (), (centred, np.abs(scipy.fft.fft(centred))))
    chance = np.random.default_rng(7)
    for first, second, shift, spread in ((2, 2, 0, 1), (4, 7, 0, 1), (5, 5, 3, 1), (6, 12, 1, 4), (40, 3, 2, 0.1)):
        a = 90 + chance.standard_normal(first)
        b = 90 + shift + spread * chance.standard_normal(second)
        found = scipy.stats.ttest_ind(b, a, equal_var=False)
        share = a.var(ddof=1) / first, b.var(ddof=1) / second
        degrees = sum(share) ** 2 / (share[0] ** 2 / (first - 1) + share[1] ** 2 / (second - 1))
        write(folder, f"welch_{first}_{second}", (first, found.statistic, degrees, found.pvalue),
              (np.concatenate((a, b)),))


if __name__ == "__main__":
    main()
