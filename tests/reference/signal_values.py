"""What scipy makes of some signals: the oracle for tests/reference_scipy_test.cpp.

usage: signal_values.py FOLDER

Writes one text file a case: a first line with the case's parameters, then one line a sample, input and expected
output. The signals are made here from a fixed seed, so that nothing has to be kept.
"""
import pathlib
import sys
from fractions import Fraction

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


def exact_weights(window: int, degree: int) -> list[float]:
    """Savitzky-Golay smoothing weights by the normal equations in fractions."""
    half = window // 2
    sums = [Fraction(sum(x ** k for x in range(-half, half + 1))) for k in range(2 * degree + 1)]
    rows = [[sums[i + j] for j in range(degree + 1)] + [Fraction(int(i == 0))] for i in range(degree + 1)]
    for i in range(degree + 1):
        pivot = next(r for r in range(i, degree + 1) if rows[r][i] != 0)
        rows[i], rows[pivot] = rows[pivot], rows[i]
        rows[i] = [v / rows[i][i] for v in rows[i]]
        for r in range(degree + 1):
            if r != i:
                rows[r] = [a - rows[r][i] * b for a, b in zip(rows[r], rows[i])]
    solution = [row[-1] for row in rows]
    return [float(sum(c * x ** k for k, c in enumerate(solution))) for x in range(-half, half + 1)]


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
    for order in range(1, 9):
        for cutoff_hz in (20.0, 150.0, 1900.0):
            sections = scipy.signal.butter(order, cutoff_hz, fs=RATE_HZ, output="sos")
            write(folder, f"two_way_{order}_{cutoff_hz:g}", (order, cutoff_hz, RATE_HZ),
                  (signal, scipy.signal.sosfiltfilt(sections, signal)))
            start = scipy.signal.sosfilt_zi(sections) * signal[0]
            write(folder, f"one_way_{order}_{cutoff_hz:g}", (order, cutoff_hz, RATE_HZ),
                  (signal, scipy.signal.sosfilt(sections, signal, zi=start)[0]))
    for window, degree, derivative in ((5, 2, 0), (21, 3, 0), (51, 2, 0), (21, 3, 1), (31, 4, 2)):
        write(folder, f"savitzky_golay_{window}_{degree}_{derivative}", (window, degree, derivative),
              (signal, scipy.signal.savgol_filter(signal, window, degree, deriv=derivative, mode="interp")))
    # scipy's weights of a long window are 1e-11 off (powers not scaled): exact fractions are the oracle there.
    write(folder, "weights_101_4", (101, 4), (exact_weights(101, 4),))
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
