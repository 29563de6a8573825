"""batch: rows in input order whatever the jobs, errors as rows, columns as options."""
import csv
import io
import json
import os
import pty
import subprocess

from support import PROGRAM, check, cranking_csv, done, folder, run, write

with folder() as here:
    cranking_csv(here, "a.csv")
    cranking_csv(here, "b, with comma.csv", weak=(1, 1, 1, 1))
    write(here, "bad.csv", "time (s),Clamp (A)\n0,1\n0.1,abc\n")
    os.mkdir(os.path.join(here, "lists"))
    listed = write(here, "lists/list.csv", "path,cylinders,order,channel\r\n../a.csv,4,,Clamp\r\n"
                   '"../b, with comma.csv",,1-3-4-2,Clamp\r\n../bad.csv,4,,\r\n../missing.csv,4,,\r\n../a.csv,99,,\r\n')
    seen = []
    for jobs in ("1", "3"):
        lines = os.path.join(here, "lists", "rows.ndjson")
        code, stdout, stderr = run("batch", listed, "--jobs", jobs, "--ndjson", lines)
        check(code == 1 and "3 of 5 recordings not analysed" in stderr, "%d %s" % (code, stderr))
        seen.append(stdout + open(lines).read())
    check(seen[0] == seen[1], "the number of jobs changes the rows")
    rows = list(csv.DictReader(io.StringIO(stdout)))
    check([os.path.basename(r["path"]) for r in rows] == ["a.csv", "b, with comma.csv", "bad.csv", "missing.csv", "a.csv"], "order")
    check([r["error_code"] for r in rows[2:]] == ["malformed", "cannot-open", "bad-engine"], str(rows))
    check(all(r["outcome"] and not r["error"] for r in rows[:2]), "good rows hold an outcome")
    documents = [json.loads(l) for l in open(lines)]
    check(len(documents) == 5 and "error" in documents[3] and "outcome" in documents[0], "a line a recording")

    # A row that names no recording is the list's fault, with its line.
    unnamed = write(here, "lists/unnamed.csv", "path,cylinders\n../a.csv,4\n,4\n")
    code, _, stderr = run("batch", unnamed)
    check(code == 1 and "unnamed.csv:3" in stderr and "path" in stderr, "%d %s" % (code, stderr))

    # On a terminal the count, and at the end what came out; elsewhere (above) nothing.
    def on_terminal(rows_too):
        ours, theirs = pty.openpty()
        ended = subprocess.run([PROGRAM, "batch", listed], stdout=theirs if rows_too else subprocess.DEVNULL, stderr=theirs)
        os.close(theirs)
        said = b""
        while True:
            try:
                piece = os.read(ours, 65536)
            except OSError:  # how Linux says that the other side is closed
                break
            if not piece:
                break
            said += piece
        os.close(ours)
        check(ended.returncode == 1 and b"5 of 5: " in said and b"3 not analysed" in said, "%d %s" % (ended.returncode, said))
        return said.decode()

    said = on_terminal(rows_too=False)
    check("1 of 5" in said and all(len(line) <= 80 for line in said.replace("\r", "\n").split("\n")), said)
    # Rows on the same terminal stand alone in their lines: the count does not run into them.
    lines = on_terminal(rows_too=True).replace("\r\n", "\n").split("\n")
    check(lines[:6] == [line.rstrip("\r") for line in stdout.split("\n")[:6]], "%s" % lines)

    both = write(here, "lists/good.csv", "path\n../a.csv\n")
    code, stdout, _ = run("batch", both, "--cylinders", "4", "--ndjson", "-")
    check(code == 0 and json.loads(stdout)["engine"]["cylinders"] == 4, "shared options hold; standard output is NDJSON alone")
    code, stdout, _ = run("batch", here, "--cylinders", "4")
    check(code == 1 and len(stdout.splitlines()) == 4, "a folder: its recordings by name")
    os.symlink("loop.csv", os.path.join(here, "loop.csv"))
    os.mkfifo(os.path.join(here, "pipe.csv"))
    os.mkdir(os.path.join(here, "folder.csv"))
    again = run("batch", here, "--cylinders", "4")
    check(again[:2] == (code, stdout), "a link in a circle, a pipe or a folder counts as a recording: %d %s" % (again[0], again[2]))
    os.remove(os.path.join(here, "loop.csv"))
    os.remove(os.path.join(here, "pipe.csv"))
    os.rmdir(os.path.join(here, "folder.csv"))
    code, stdout, _ = run("batch", write(here, "lists/capital.csv", "Path,Cylinders\n../a.csv,4\n"), "--ndjson", "-")
    check(code == 0 and json.loads(stdout)["engine"]["cylinders"] == 4, "column names in capitals")
    for text, word in (("path,path\na.csv,b.csv\n", 'two columns are called "path"'), ("path,colour\na.csv,red\n", "colour"), ("cylinders\n4\n", "path"), ("path\n", "no recordings"), ("", "no recordings"), ("path,order\n\nb.csv,1-2\n\n\na.csv\n", "wrong.csv:6: 1 cell under 2 columns"),
                       ('path,order\n"two\nlines.csv",1-2\na.csv\n', "wrong.csv:4: 1 cell under 2 columns"),
                       ('path\n"a.csv\n', "quote"), ("path,order\na.csv\n", "1 cell under 2 columns")):
        code, stdout, stderr = run("batch", write(here, "lists/wrong.csv", text))
        check(code == 1 and stdout == "" and word in stderr, "%r: %d %s" % (text, code, stderr))

    # Why a list cannot be read is told apart; it may come through a pipe.
    code, stdout, stderr = run("batch", os.path.join(here, "nope"))
    check(code == 1 and "No such file" in stderr.replace("\n  ", " "), "%d %s" % (code, stderr))
    code, stdout, stderr = run("batch", "-", stdin=b"path,cylinders\na.csv,4\n", cwd=here)
    check(code == 0 and "a.csv," in stdout, "a list on standard input: %d %s" % (code, stderr))
    code, stdout, stderr = run("batch", "-")
    check(code == 1 and "standard input" in stderr and "no recordings" in stderr, "nothing on standard input: %d %s" % (code, stderr))
    code, stdout, stderr = run("batch", both, "--cylinders", "4", "--csv", os.path.join(here, "lists", "..", "lists", "good.csv"))
    check(code == 1 and "list itself" in stderr.replace("\n  ", " "), "%d %s" % (code, stderr))
done()
