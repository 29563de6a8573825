"""Bad input: exit 1 (2 for wrong usage), the file and a remedy on standard error, nothing on standard output, no file."""
import os

from support import check, cranking_csv, done, folder, run, write

with folder() as here:
    good = cranking_csv(here)
    out = os.path.join(here, "out.json")
    files = {
        "empty.csv": b"",
        "rubbish.bin": bytes((i * 197 + 31) % 256 for i in range(4096)),
        "header.csv": b"time (s),Clamp (A)\n",
        "ragged.csv": b"time (s),Clamp (A)\n0,1\n0.1,2,3,4\n0.2,1\n0.3,5\n",
        "word.csv": b"time (s),Clamp (A)\n0,1\n0.1,2\n0.2,abc\n0.3,5\n",
        "backwards.csv": b"time (s),Clamp (A)\n0,1\n0.1,2\n0.05,3\n0.2,5\n",
        "nan.csv": b"time (s),Clamp (A)\n" + b"".join(b"%.3f,nan\n" % (i / 1000) for i in range(3000)),
        "constant.csv": b"time (s),Clamp (A)\n" + b"".join(b"%.3f,7\n" % (i / 1000) for i in range(3000)),
        "two.csv": b"time (s),Clamp (A)\n0,1\n0.1,2\n",
        "cut.flac": b"fLaC\x00\x00\x00\x22" + b"\x10\x00" * 9,
        "comma.csv": b"," * 3_000_000 + b"\n1\n",
    }
    for name, data in files.items():
        path = write(here, name, data)
        code, stdout, stderr = run("crank", path, "--cylinders", "4", "--json", out)
        check(code == 1, "%s: exit code %d, not 1: %s" % (name, code, stderr))
        check(stdout == "", name + ": something on standard output")
        check(name in stderr, "%s: the message does not name the file: %s" % (name, stderr))
        check(len(stderr.splitlines()) >= 2, "%s: no remedy: %s" % (name, stderr))
        check(not os.path.exists(out), name + ": an output file stayed")

    missing = os.path.join(here, "missing.csv")
    for path in (missing, here):
        code, stdout, stderr = run("crank", path, "--cylinders", "4")
        check(code == 1 and path.split("/")[-1] in stderr.replace("\n  ", " "), "%s: %d %s" % (path, code, stderr))

    refused = {
        "no such channel": (["--cylinders", "4", "--channel", "Nope"], "Clamp"),
        "no such sync": (["--cylinders", "4", "--sync", "9"], "Clamp"),
        "0 cylinders": (["--cylinders", "0"], "1 to 16"),
        "99 cylinders": (["--cylinders", "99"], "1 to 16"),
        "order repeats": (["--order", "1-3-3-2"], "twice"),
        "order omits": (["--order", "1-3-5-2"], "5"),
        "intervals": (["--intervals", "180,180,180,170"], "710"),
        "rate": (["--cylinders", "4", "--rate", "0"], "--rate"),
        "window": (["--cylinders", "4", "--from", "3", "--to", "2"], "--from"),
    }
    for name, (options, word) in refused.items():
        code, stdout, stderr = run("crank", good, *options, "--json", out)
        check(code == 1, "%s: exit code %d: %s" % (name, code, stderr))
        check(stdout == "" and word in stderr, "%s: %s" % (name, stderr))
        check(not os.path.exists(out), name + ": an output file stayed")

    usage = [[], ["crank"], ["crank", good], ["crank", good, "--cylinders", "four"], ["crank", good, "--nope"],
             ["crank", good, "--order", "1-x-2"], ["crank", good, "--cylinders", "4", "--quantity", "smell"],
             ["crank", good, "--cylinders", "4", "--sync-lead", "9"],
             ["crank", good, "--cylinders", "4", "--json", "-", "--wave", "-"], ["nope"]]
    for options in usage:
        code, stdout, stderr = run(*options)
        check(code == 2 and stdout == "" and stderr, "%s: %d %s" % (options, code, stderr))
done()
