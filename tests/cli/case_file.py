"""--save: entries are only added, whole or not at all; what is no case is left as it is."""
import json
import os
import resource
import subprocess

from support import PROGRAM, SOURCE, check, done, folder, run, skipped, write

try:
    import jsonschema
except ImportError:
    jsonschema = None
    skipped("cases against docs/case.schema.json: python3-jsonschema is missing")
schema = json.load(open(os.path.join(SOURCE, "docs", "case.schema.json")))
SAMPLE = os.path.join(SOURCE, "samples", "four-weak.csv")
ENGINE = ("--order", "1-3-4-2", "--sync", "Sync")


def load(path):
    with open(path, "rb") as file:
        case = json.loads(file.read())
    if jsonschema:
        jsonschema.Draft7Validator(schema).validate(case)
    return case


with folder() as here:
    sheet = write(here, "sheet.csv", "quantity,unit,engine,1,2,3,4\ndry,psi,,152,148,72,149\n")
    case = os.path.join(here, "case.json")
    commands = [(("crank", SAMPLE, *ENGINE), 1), (("followup", sheet, SAMPLE, *ENGINE), 2),
                (("compare", SAMPLE, SAMPLE, *ENGINE), 3), (("followup", sheet), 1)]
    entries = []
    for command, added in commands:
        code, out, err = run(*command, "--save", case)
        check(code == 0 and err == "" and out != "", "%s: %d %s" % (command[0], code, err))
        now = load(case)["entries"]
        check(now[:len(entries)] == entries, "an earlier entry changed")
        check(len(now) == len(entries) + added, "%s added %d" % (command[0], len(now) - len(entries)))
        entries = now
    check([e["document"]["command"] for e in entries] ==
          ["crank", "crank", "followup", "crank", "crank", "compare", "followup"], "kinds of entries")
    _, out, _ = run("crank", SAMPLE, *ENGINE, "--json", "-")
    check(entries[0]["document"] == json.loads(out), "the entry is not the document of --json")
    check(sorted(os.listdir(here)) == ["case.json", "sheet.csv"], "something else stayed: %s" % os.listdir(here))

    # A result without verdict is a result.
    blank = write(here, "blank.csv", "quantity,unit,engine,1,2\n")
    code, _, _ = run("followup", blank, "--save", case)
    check(code == 3 and len(load(case)["entries"]) == len(entries) + 1, "no verdict: not saved")
    whole = open(case, "rb").read()

    # What is no case is refused before any work, and left as it is.
    for text in (b"", b"{}", b"not JSON", whole[:len(whole) // 2], b'{"evenstroke_case": 2, "entries": []}',
                 open(SAMPLE, "rb").read(200)):
        foreign = write(here, "foreign.json", text)
        for command in (("crank", os.path.join(here, "no.csv"), *ENGINE), ("followup", sheet),
                        ("compare", SAMPLE, SAMPLE, *ENGINE)):
            code, out, err = run(*command, "--save", foreign)
            check(code == 1 and out == "" and "foreign.json" in err, "%r: %d %s" % (text[:20], code, err))
            check(open(foreign, "rb").read() == text, "a foreign file was changed")
    os.remove(foreign)

    # Failures on the way leave the case as it is.
    code, _, err = run("crank", os.path.join(here, "no.csv"), *ENGINE, "--save", case)
    check(code == 1 and open(case, "rb").read() == whole, "a failed run changed the case")

    def small_files():
        resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))

    code, _, err = run("crank", SAMPLE, *ENGINE, "--save", case, preexec_fn=small_files)
    check(code == 1 and "cannot be written" in " ".join(err.split()), "file size limit: %d %s" % (code, err))
    check(open(case, "rb").read() == whole, "a full disk lost the case")
    for path, part in (("-", "standard output"), (here, "not a file"), ("/nonexistent/c.json", "cannot be written")):
        code, _, err = run("followup", sheet, "--save", path)
        check(code == 1 and part in " ".join(err.split()), "%s: %d %s" % (path, code, err))
    code, _, err = run("followup", sheet, "--json", case, "--save", case)
    check(code == 2 and open(case, "rb").read() == whole, "two documents to one file: %d %s" % (code, err))

    # Eight at once: nobody's entry is lost.
    before = len(load(case)["entries"])
    several = [subprocess.Popen([PROGRAM, "followup", sheet, "--save", case], stdout=subprocess.DEVNULL)
               for _ in range(8)]
    check([process.wait(60) for process in several] == [0] * 8, "one of eight failed")
    check(len(load(case)["entries"]) == before + 8, "entries were lost: %d" % len(load(case)["entries"]))
done()
