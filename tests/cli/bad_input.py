"""Bad input: exit 1 (2 for wrong usage), the file and a remedy on standard error, nothing on standard output, no file."""
import os
import shutil
import subprocess
import time

from support import PROGRAM, SOURCE, check, cranking_csv, done, folder, little_memory, run, skipped, write


with folder() as here:
    good = cranking_csv(here)
    out = os.path.join(here, "out.json")
    files = {
        "empty.csv": b"",
        "rubbish.bin": bytes((i * 197 + 31) % 256 for i in range(4096)),
        "header.csv": b"time (s),Clamp (A)\n",
        "ragged.csv": b"time (s),Clamp (A)\n" + b"".join(b"%.3f,%d%s\n" % (i / 1000, i % 7, b",3,4" if i == 100 else b"")
                                                         for i in range(3000)),
        "word.csv": b"time (s),Clamp (A)\n0,1\n0.1,2\n0.2,abc\n0.3,5\n",
        "backwards.csv": b"time (s),Clamp (A)\n0,1\n0.1,2\n0.05,3\n0.2,5\n",
        "nan.csv": b"time (s),Clamp (A)\n" + b"".join(b"%.3f,nan\n" % (i / 1000) for i in range(3000)),
        "constant.csv": b"time (s),Clamp (A)\n" + b"".join(b"%.3f,7\n" % (i / 1000) for i in range(3000)),
        "two.csv": b"time (s),Clamp (A)\n0,1\n0.1,2\n",
        "cut.flac": b"fLaC\x00\x00\x00\x22" + b"\x10\x00" * 9,
        "one_column.csv": b"Clamp (A)\n" + b"".join(b"%d\n" % (i % 7) for i in range(3000)),
        "only_time.csv": b"time (s)\n" + b"".join(b"%.3f\n" % (i / 1000) for i in range(3000)),
        "repeated.csv": b"time (s),Clamp (A)\n" + b"".join(b"%.3f,%d\n" % ((40 if i == 41 else i) / 1000, i % 7)
                                                           for i in range(3000)),
        "one_time.csv": b"time (s),Clamp (A)\n" + b"".join(b"0.5,%d\n" % (i % 7) for i in range(3000)),
        "zero_hz.csv": b"Sample rate (Hz),0\nClamp (A)\n" + b"1\n2\n" * 2000,
        "zero_step.csv": b"Sample interval (s),0\nClamp (A)\n" + b"1\n2\n" * 2000,
        "cut_20000.flac": open(os.path.join(SOURCE, "samples", "six-odd-fire.flac"), "rb").read(20000),
        "cut_1000.flac": open(os.path.join(SOURCE, "samples", "six-odd-fire.flac"), "rb").read(1000),
        "below_zero_hz.csv": b"Sample rate,-5\nClamp (A)\n" + b"1\n2\n" * 2000,
        "comma.csv": b"," * 3_000_000 + b"\n1\n",
    }
    outputs = [word for option in ("json", "events", "cycles", "wave", "save") for word in ("--" + option, os.path.join(here, "out." + option))]
    for name, data in files.items():
        path = write(here, name, data)
        before = sorted(os.listdir(here))
        code, stdout, stderr = run("crank", path, "--cylinders", "4", *outputs)
        check(sorted(os.listdir(here)) == before, "%s: something stayed: %s" % (name, os.listdir(here)))
        check(code == 1, "%s: exit code %d, not 1: %s" % (name, code, stderr))
        check(stdout == "", name + ": something on standard output")
        check(name in stderr, "%s: the message does not name the file: %s" % (name, stderr))
        check(len(stderr.splitlines()) >= 2, "%s: no remedy: %s" % (name, stderr))
        check(not os.path.exists(out), name + ": an output file stayed")

    # The other commands read by the same code: the same refusals, no output. A file that cannot be read at all is no row of theirs.
    sound = cranking_csv(here, "sound.csv")
    unreadable = ("empty.csv", "rubbish.bin", "header.csv", "ragged.csv", "word.csv", "backwards.csv", "repeated.csv", "one_time.csv",
                  "zero_hz.csv", "cut.flac", "cut_1000.flac")
    for name in unreadable:
        path = os.path.join(here, name)
        for command in (["inspect", path], ["pressure", path, "--json", out], ["compare", path, sound, "--cylinders", "4", "--json", out]):
            code, stdout, stderr = run(*command)
            check(code == 1 and stdout == "" and name in stderr and len(stderr.splitlines()) >= 2 and not os.path.exists(out),
                  "%s %s: %d %s%s" % (command[0], name, code, stdout, stderr))

    # Where the trouble lies is named as far as it can be: line, or sample.
    for name, place in (("word.csv", "word.csv:4"), ("backwards.csv", "backwards.csv:4"), ("repeated.csv", "repeated.csv:43"),
                        ("ragged.csv", "ragged.csv:102"), ("zero_hz.csv", "zero_hz.csv:1"), ("below_zero_hz.csv", "not above 0"), ("cut_20000.flac", "sample ")):
        stderr = run("crank", os.path.join(here, name), "--cylinders", "4", "--channel", "1")[2].replace("\n  ", " ")
        check(place in stderr, "%s: %s" % (name, stderr))

    # A channel without a number is not passed over in silence.
    dead = write(here, "dead.csv", "Time (s),Clamp (A),Sync (V)\n" + "".join("%.3f,OL,%d\n" % (i / 1000, 5 * (i % 600 < 20)) for i in range(3000)))
    for options, words in (([], '"Clamp" holds no number'), (["--channel", "Clamp"], 'channel "Clamp": this channel holds no number')):
        code, stdout, stderr = run("crank", dead, "--cylinders", "4", *options)
        check(code == 1 and stdout == "" and words in stderr.replace("\n  ", " "), "dead channel: %d %s" % (code, stderr))

    missing = os.path.join(here, "missing.csv")
    for path in (missing, here):
        code, stdout, stderr = run("crank", path, "--cylinders", "4")
        check(code == 1 and path.split("/")[-1] in stderr.replace("\n  ", " "), "%s: %d %s" % (path, code, stderr))

    # A name that the parser takes for options: how to write it.
    write(here, "-x.csv", open(good, "rb").read())
    code, stdout, stderr = run("crank", "-x.csv", "--cylinders", "4", cwd=here)
    check(code == 2 and "write ./-x.csv" in stderr.replace("\n  ", " "), "a hyphen: %d %s" % (code, stderr))
    code, stdout, stderr = run("crank", "./-x.csv", "--cylinders", "4", cwd=here)
    check(code == 0, "a hyphen behind a folder: %d %s" % (code, stderr))

    refused = {
        "no such channel": (["--cylinders", "4", "--channel", "Nope"], "Clamp"),
        "no such sync": (["--cylinders", "4", "--sync", "9"], "Clamp"),
        "0 cylinders": (["--cylinders", "0"], "1 to 16"),
        "99 cylinders": (["--cylinders", "99"], "1 to 16"),
        "order repeats": (["--order", "1-3-3-2"], "twice"),
        "order in one word": (["--order", "1342"], "with hyphens, as in 1-3-4-2"),
        "order in one word beside a number": (["--cylinders", "4", "--order", "1342"], "with hyphens"),
        "order omits": (["--order", "1-3-5-2"], "5"),
        "intervals": (["--intervals", "180,180,180,170"], "710"),
        "rate": (["--cylinders", "4", "--rate", "0"], "--rate"),
        "rate below 0": (["--cylinders", "4", "--rate", "-5"], "--rate"),
        "sync is the channel": (["--cylinders", "4", "--channel", "Clamp", "--sync", "1"], "both \"Clamp\""),
        "lead": (["--cylinders", "4", "--sync", "Cyl1", "--sync-lead", "721"], "720"),
        "lead below": (["--cylinders", "4", "--sync", "Cyl1", "--sync-lead", "-720.5"], "720"),
        "window": (["--cylinders", "4", "--from", "3", "--to", "2"], "--from"),
    }
    for name, (options, word) in refused.items():
        code, stdout, stderr = run("crank", good, *options, "--json", out)
        check(code == 1, "%s: exit code %d: %s" % (name, code, stderr))
        check(stdout == "" and word in stderr, "%s: %s" % (name, stderr))
        check(not os.path.exists(out), name + ": an output file stayed")

    # No permission: only seen by a user who is not root.
    secret = write(here, "secret.csv", open(good, "rb").read())
    os.chmod(secret, 0)
    as_other = []
    if os.geteuid() == 0:
        os.chmod(here, 0o755)
        as_other = ["setpriv", "--reuid=65534", "--regid=65534", "--clear-groups"] if shutil.which("setpriv") else None
    reachable = as_other is not None and subprocess.run([*as_other, "test", "-x", PROGRAM, "-a", "-e", secret]).returncode == 0
    if reachable:
        ended = subprocess.run([*as_other, PROGRAM, "crank", secret, "--cylinders", "4"], capture_output=True)
        check(ended.returncode == 1 and b"secret.csv" in ended.stderr and b"permission" in ended.stderr,
              "no permission: %d %s" % (ended.returncode, ended.stderr))
    else:
        skipped("no permission to read: another user cannot be taken on here, or cannot reach the program")

    # A line of 10^9 columns is refused at once, in little memory; the writer never gets to send it all.
    with subprocess.Popen([PROGRAM, "crank", "-", "--cylinders", "4"], stdin=subprocess.PIPE,
                          stdout=subprocess.PIPE, stderr=subprocess.PIPE, preexec_fn=little_memory) as reader:
        begun, sent = time.monotonic(), 0
        try:
            while sent < 2_000_000_000:
                sent += reader.stdin.write(b"1," * 32768)
            reader.stdin.close()
        except BrokenPipeError:
            pass
        stderr = reader.stderr.read()
        try:
            reader.stdin.close()
        except BrokenPipeError:
            pass
    check(reader.returncode == 1 and b"standard input:1" in stderr and b"line of more than" in stderr,
          "10^9 columns: %d %s" % (reader.returncode, stderr))
    check(sent < 100_000_000 and time.monotonic() - begun < 30, "10^9 columns: %d bytes were read first" % sent)

    usage = [[], ["crank"], ["crank", good], ["crank", good, "--cylinders", "four"], ["crank", good, "--nope"],
             ["crank", good, "--order", "1-x-2"], ["crank", good, "--cylinders", "4", "--quantity", "smell"],
             ["crank", good, "--cylinders", "4", "--sync-lead", "9"],
             ["crank", good, "--cylinders", "4", "--json", "-", "--wave", "-"], ["nope"]]
    for options in usage:
        code, stdout, stderr = run(*options)
        check(code == 2 and stdout == "" and stderr, "%s: %d %s" % (options, code, stderr))
    # A number is a finite one in decimals, whichever command and option it is for.
    for command, options in ((["pressure", good], ("--scale", "--offset", "--bore", "--stroke", "--rod", "--compression-ratio", "--altitude",
                                                   "--bandwidth", "--expect-intake-closes", "--expect-exhaust-opens", "--from", "--to", "--rate")),
                             (["synth", "--output", out], ("--speed", "--seconds", "--rate", "--noise", "--sync-lead", "--compression-ratio")),
                             (["crank", good, "--cylinders", "4"], ("--scale", "--weak-below", "--rate", "--from", "--to"))):
        for option in options:
            for text in ("nan", "inf", "-inf", "1e999", "0x10", "9,5"):
                code, stdout, stderr = run(*command, "%s=%s" % (option, text))
                check(code == 2 and stdout == "" and '%s: "%s" is not a number' % (option, text) in stderr, "%s %s: %d %s" % (option, text, code, stderr))
    # What was probably meant is said, and what there is.
    meant = [(["crnk", good], "did you mean crank?"), (["nope"], "there are inspect, crank"), ([], "a command is needed: inspect, crank"),
             (["crank", good, "--cylinder", "4"], "there is no option --cylinder (did you mean --cylinders?)"),
             (["crank", good, "--cylindrs=4"], "did you mean --cylinders?"),
             (["crank", good, "--cylinders", "4", "--xyzzy"], "there is no option --xyzzy."),
             (["crank", good, "--cylinders"], "--cylinders needs a value: N."),
             (["crank", good, "--cylinders", "4", "--sync"], "--sync needs a value: NAME|NUMBER."),
             (["crank", "--", good, "--cylinders", "4"], "\"--cylinders\" is one argument too many: what follows -- is not an option"),
             (["batch", here, "--cylinders", "4", "--jobs", "x"], "--jobs: \"x\" is not a whole number from 1 to 1024"),
             (["synth", "--seed", "-1"], "--seed: \"-1\" is not a whole number of 0 or more."),
             (["crank", good, "more.csv", "--cylinders", "4"], "more.csv"), (["synth", "--oder", "1-2"], "did you mean --order?")]
    for options, words in meant:
        code, stdout, stderr = run(*options)
        check(code == 2 and stdout == "", "%s: %d %s" % (options, code, stderr))
        check(words.lower() in stderr.replace("\n  ", " ").lower(), "%s: %s" % (options, stderr))

    # After -- a name may begin like an option.
    dashed = os.path.join(here, "--sound.csv")
    os.link(good, dashed)
    code, stdout, stderr = run("inspect", "--json", "-", "--", "--sound.csv", cwd=here)
    check(code == 0 and "Clamp" in stdout, "--: %d %s" % (code, stderr))
    os.remove(dashed)

    # A window outside the recording is refused, and told how long the recording is.
    for options in (["--from", "10"], ["--to", "-3"]):
        code, stdout, stderr = run("crank", good, "--cylinders", "4", *options)
        check(code == 1 and options[0] in stderr and "lasts 5.00 s" in stderr.replace("\n  ", " "), "%s: %d %s %s" % (options, code, stdout, stderr))

    # Columns parted by something else than commas.
    for other in (";", "\t"):
        listed = write(here, "list.csv", "path%scylinders\ncrank.csv%s4\n" % (other, other))
        code, stdout, stderr = run("batch", listed)
        check(code == 1 and "commas" in stderr and "list.csv:1" in stderr, "manifest: %d %s" % (code, stderr))
done()
