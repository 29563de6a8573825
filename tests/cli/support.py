"""What the command line tests share: running the program, and a recording that is quick to make."""
import math
import os
import resource
import subprocess
import sys
import tempfile

PROGRAM, SOURCE = sys.argv[1], sys.argv[2]


def run(*args, stdin=b"", env=None, **more):
    """Runs the program; returns (exit code, stdout, stderr) as text."""
    done = subprocess.run([PROGRAM, *args], input=stdin, capture_output=True, timeout=120,
                          env={**os.environ, "COLUMNS": "80", **(env or {})}, **more)
    return done.returncode, done.stdout.decode("utf-8", "replace"), done.stderr.decode("utf-8", "replace")


# What runs the same code over again is left out under the sanitizers, where each run takes five times as long.
SANITIZED = b"__asan_init" in open(PROGRAM, "rb").read()


def little_memory():
    """For preexec_fn: the 400 MB that the program is held to."""
    # Address space, not memory in use: a sanitizer's shadow needs more, so it is not limited there.
    if not SANITIZED:
        resource.setrlimit(resource.RLIMIT_AS, (400 << 20, 400 << 20))


def check(condition, what):
    """Ends the test with `what` when the condition does not hold; counts it otherwise."""
    check.count += 1
    if not condition:
        sys.exit("FAILED: " + what)


check.count = 0


def done():
    check(check.count > 3, "the script checked next to nothing")
    print("%d checks" % check.count)


def skipped(what):
    """Said aloud: a check that could not be made is no pass."""
    print("SKIPPED: " + what, file=sys.stderr)


def write(folder, name, data):
    path = os.path.join(folder, name)
    with open(path, "wb") as file:
        file.write(data if isinstance(data, bytes) else data.encode())
    return path


def cranking_csv(folder, name="crank.csv", weak=(1.0, 1.0, 0.4, 1.0), sync=True):
    """A hand-made current trace, not physics: a hump a compression, its height given by position."""
    rate, rest, length, speed_deg_s = 2000, 0.5, 5.0, 200 * 6.0
    lines = ["time (s),Clamp (A),Cyl1 (V)" if sync else "time (s),Clamp (A)"]
    for i in range(int(rate * length)):
        t = i / rate
        current, mark = 0.0, 0.0
        if rest <= t < length - 0.5:
            angle = (t - rest) * speed_deg_s
            position = int(angle // 180) % 4
            hump = math.sin(math.pi * (angle % 180) / 180) ** 2
            current = 120 + 60 * weak[position] * hump + 400 * math.exp(-(t - rest) / 0.08)
            mark = 5.0 if angle % 720 < 20 else 0.0
        noise = 0.7 * math.sin(12345.678 * i * i)
        lines.append("%.4f,%.2f,%.1f" % (t, current + noise, mark) if sync else "%.4f,%.2f" % (t, current + noise))
    return write(folder, name, "\n".join(lines) + "\n")


def folder():
    return tempfile.TemporaryDirectory()
