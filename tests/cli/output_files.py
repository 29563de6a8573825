"""Outputs appear whole or not at all; unwritable paths are found before the work; streams end quietly."""
import os
import resource
import signal
import subprocess
import time

from support import PROGRAM, check, cranking_csv, done, folder, run, skipped, write

with folder() as here:
    good = cranking_csv(here)
    before = sorted(os.listdir(here))
    # The recording does not exist, yet the output is complained about: it was looked at first.
    for path in ("/nonexistent/x.json", here):
        code, stdout, stderr = run("crank", os.path.join(here, "missing.csv"), "--cylinders", "4", "--json", path)
        check(code == 1 and "cannot be written" in stderr.replace("\n ", ""), "%s: %d %s" % (path, code, stderr))
    code, _, stderr = run("crank", good, "--cylinders", "4", "--json", good)
    check(code == 1 and "recording itself" in stderr, "the recording may be overwritten: " + stderr)

    def small_files():
        resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))

    wave = os.path.join(here, "wave.csv")
    code, _, stderr = run("crank", good, "--cylinders", "4", "--wave", wave, preexec_fn=small_files)
    check(code == 1 and "cannot be written" in stderr, "file size limit: %d %s" % (code, stderr))
    check(sorted(os.listdir(here)) == before, "something stayed: %s" % os.listdir(here))

    with open("/dev/full", "wb") as full:
        ended = subprocess.run([PROGRAM, "crank", good, "--cylinders", "4"], stdout=full, stderr=subprocess.PIPE)
    check(ended.returncode == 1 and b"standard output" in ended.stderr, "full device: %s" % ended.stderr)
    for words in ("--help", "--version", "crank --help", "synth --help"):
        for redirection in (">/dev/full", ">&-"):
            ended = subprocess.run(["sh", "-c", '"$0" %s %s' % (words, redirection), PROGRAM], capture_output=True)
            check(ended.returncode == 1 and ended.stderr.startswith(b"evenstroke: standard output: cannot be written"),
                  "%s %s: %d %s" % (words, redirection, ended.returncode, ended.stderr))

    # The recording on standard input is an input as any other.
    with open(good, "rb") as stdin:
        ended = subprocess.run([PROGRAM, "crank", "-", "--cylinders", "4", "--json", good], stdin=stdin,
                               stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    check(ended.returncode == 1 and b"recording itself" in ended.stderr.replace(b"\n  ", b" "), "%s" % ended.stderr)
    check(open(good).read().startswith("time (s)"), "the recording was overwritten")

    # One file for two documents, however its name is spelt, there already or not yet.
    os.symlink(".", os.path.join(here, "again"))
    target = os.path.join(here, "result")
    for there in (False, True):
        if there:
            write(here, "result", "old")
        for other in (target, os.path.join(here, ".", "result"), os.path.join(here, "again", "result"), os.path.relpath(target)):
            code, _, stderr = run("crank", good, "--cylinders", "4", "--json", target, "--events", other)
            check(code == 2 and "two documents" in stderr.lower(), "%s: %d %s" % (other, code, stderr))
        check(os.path.exists(target) == there, "an output that was refused was written")
    code, _, stderr = run("crank", good, "--cylinders", "4", "--json", target, "--events", os.path.join(here, "other"))
    check(code in (0, 3), "two documents in two files: %d %s" % (code, stderr))
    for name in ("again", "result", "other"):
        os.remove(os.path.join(here, name))
    # An empty name is no file, and no wish for none.
    for command in (["crank", good, "--cylinders", "4", "--json", ""], ["crank", good, "--cylinders", "4", "--save="],
                    ["inspect", good, "--json", ""], ["pressure", good, "--pulses", ""], ["compare", good, good, "--cylinders", "4", "--json", ""],
                    ["batch", good, "--csv", ""], ["synth", "--truth", ""], ["synth", "--output", ""]):
        code, stdout, stderr = run(*command)
        check(code == 2 and stdout == "" and ("empty" in stderr or "needs a value" in stderr), "%s: %d %s%s" % (command, code, stdout[:80], stderr))
    check(sorted(os.listdir(here)) == before, "something stayed: %s" % os.listdir(here))

    # A disk that is really full: a file system of 64 KiB, which only root can mount. Otherwise the limit on file sizes
    # above stands for it.
    small = os.path.join(here, "small")
    os.mkdir(small)
    mounted = os.geteuid() == 0 and subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", small],
                                                   capture_output=True).returncode == 0
    if mounted:
        try:
            for command in (["crank", good, "--cylinders", "4", "--wave", os.path.join(small, "wave.csv")],
                            ["synth", "--seconds", "3", "--rate", "2000", "--output", os.path.join(small, "made.csv")],
                            ["synth", "--seconds", "3", "--rate", "50000", "--output", os.path.join(small, "made.flac")]):
                code, _, stderr = run(*command)
                check(code == 1 and "cannot be written" in stderr.replace("\n  ", " "), "full disk: %d %s" % (code, stderr))
                check(os.listdir(small) == [], "full disk: %s stayed" % os.listdir(small))
        finally:
            subprocess.run(["umount", small], check=True)
    else:
        skipped("a disk that is really full: a small file system cannot be mounted here (a file size limit was tried)")
    os.rmdir(small)

    # A reader that has gone: quiet, and not killed by the signal.
    reader, writer = os.pipe()
    os.close(reader)
    ended = subprocess.run([PROGRAM, "crank", good, "--cylinders", "4", "--wave", "-"], stdout=writer,
                           stderr=subprocess.PIPE)
    os.close(writer)
    check(ended.returncode == 0 and ended.stderr == b"", "closed pipe: %d %s" % (ended.returncode, ended.stderr))

    ended = subprocess.run(["sh", "-c", '"$0" crank "$1" --cylinders 4 --json "$2" >&-', PROGRAM, good,
                            os.path.join(here, "x.json")], stderr=subprocess.PIPE)
    check(ended.returncode == 1 and sorted(os.listdir(here)) == before, "closed stdout: %s" % ended.stderr)

    old = write(here, "old.json", "old")
    os.chmod(old, 0o640)
    code, _, _ = run("crank", good, "--cylinders", "4", "--json", old)
    check(code in (0, 3) and open(old).read().startswith("{"), "the old file was not replaced")
    check(os.stat(old).st_mode & 0o777 == 0o640, "the old file's mode was not kept")

    # Interrupted in the middle of a batch: ended by the signal, no table half-written.
    for name in ("one", "two", "three"):
        os.link(good, os.path.join(here, name + ".csv"))
    listed = write(here, "many.csv", "path\n" + "one.csv\ntwo.csv\nthree.csv\n" * 2000)
    before = sorted(os.listdir(here))
    batch = subprocess.Popen([PROGRAM, "batch", listed, "--cylinders", "4", "--jobs", "1", "--csv",
                              os.path.join(here, "rows.csv"), "--ndjson", os.path.join(here, "rows.ndjson")],
                             stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    deadline = time.monotonic() + 30
    while sorted(os.listdir(here)) == before and time.monotonic() < deadline:
        time.sleep(0.05)  # until its temporaries stand
    check(sorted(os.listdir(here)) != before, "the batch never began")
    time.sleep(0.3)
    batch.send_signal(signal.SIGINT)
    stdout, stderr = batch.communicate(timeout=60)
    check(batch.returncode in (-signal.SIGINT, 130), "interrupted: %s %s" % (batch.returncode, stderr))
    check(sorted(os.listdir(here)) == before and stdout == b"", "interrupted: %s stayed" % os.listdir(here))
done()
