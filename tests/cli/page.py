"""The page that --html writes: of every sample well-formed, whole in itself, and saying what text and JSON say."""
import html.parser
import json
import os
import re
import resource
import shlex
import xml.etree.ElementTree as xml

from support import SOURCE, check, cranking_csv, done, folder, run, write

MOST_BYTES = 200_000
# What would be fetched from elsewhere, or run: with XML's or SVG's namespace left out, no address is left at all.
ELSEWHERE = re.compile(r"https?:|//|src=|href=|url\(|@import|<script|\son[a-z]+=", re.I)
NO_NUMBER = re.compile(r"\b(nan|inf|infinity)\b", re.I)
ROUNDING = 0.5 + 0.05 + 1e-9  # percent: the page's whole percents, and the tenths of JSON


class Tags(html.parser.HTMLParser):
    """An HTML parser of its own, besides XML's: which elements begin, and which are left open."""
    def __init__(self, page):
        super().__init__()
        self.open, self.seen = [], []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag, attributes):
        self.open.append(tag)
        self.seen.append(tag)

    def handle_startendtag(self, tag, attributes):
        self.seen.append(tag)

    def handle_endtag(self, tag):
        check(self.open and self.open.pop() == tag, "</%s> out of turn" % tag)


def words(element):
    """What is read of an element, pictures left aside."""
    inner = "".join(words(child) for child in element if child.tag != "svg")
    own = (element.text or "") + "".join(child.tail or "" for child in element)
    return own + inner if inner else own


def rows_of(page):
    """(label, percent, interval, verdict) of each cylinder in the page's table."""
    return [(words(row.find("th")), *(words(cell) for cell in row.findall("td")[:2]), words(row.find("td[@class='word']")))
            for row in page.iter("tr") if row.find("th").get("scope") == "row"]


def rows_of_text(text):
    found = re.findall(r"^((?:cylinder|position) \d+(?: or \d+)?) +(\d+|n/a) +(\d+ to +\d+|n/a) .*?(even|low|weak|unsure)$", text, re.M)
    return [(label, pct, re.sub(" +", " ", interval), word) for label, pct, interval, word in found]


def parse(text, what):
    """The page as a tree, when it is what it should be."""
    check(text.startswith("<!DOCTYPE html>\n"), what + ": no document type")
    check(len(text.encode()) < MOST_BYTES, "%s: %d bytes" % (what, len(text.encode())))
    check(not ELSEWHERE.search(text), "%s: not whole in itself: %s" % (what, ELSEWHERE.search(text)))
    check(not NO_NUMBER.search(re.sub("<style>.*?</style>", "", text, flags=re.S)), what + ": a number that is none")
    tags = Tags(text)
    check(not tags.open, "%s: left open: %s" % (what, tags.open))
    page = xml.fromstring(text)
    check(page.get("lang") == "en" and page.find("head/title").text, what + ": no language or title")
    check(len(list(page.iter("h1"))) == 1, what + ": one first heading")
    check(all(th.get("scope") for th in page.iter("th")), what + ": a heading of the table without scope")
    for picture in page.iter("svg"):
        check(picture.get("role") == "img" and picture.get("aria-label") and picture.find("title").text, what + ": a picture without words")
    return page


def compare(what, arguments, cwd):
    """Page, text and JSON of one recording, from three runs."""
    code, text, stderr = run(*arguments, "--html", "-", cwd=cwd)
    check(code in (0, 3) and stderr == "", "%s: %d %s" % (what, code, stderr))
    page = parse(text, what)
    summary = run(*arguments, cwd=cwd)[1]
    result = json.loads(run(*arguments, "--json", "-", cwd=cwd)[1])
    rows = rows_of(page)
    check(rows == rows_of_text(summary), "%s: %s, the text says %s" % (what, rows, rows_of_text(summary)))
    for (label, pct, interval, verdict), c in zip(rows, result["cylinders"], strict=True) if rows else ():
        figures = [pct, *interval.split(" to ")] if interval != "n/a" else [pct, "n/a", "n/a"]
        for said, known in zip(figures, (c["contribution_pct"], c["low_pct"], c["high_pct"])):
            check(said == "n/a" if known is None else abs(float(said) - known) <= ROUNDING, "%s, %s: %s, JSON %s" % (what, label, said, known))
        check(verdict == c["verdict"], "%s, %s: %s, JSON %s" % (what, label, verdict, c["verdict"]))
    check(result["headline"].split(": ")[-1].rstrip(".").lower() in words(page.find(".//h1")).lower(), what + ": another headline")
    items = [words(item) for item in page.iter("li")]
    check(result["cautions"], what + ": no caution")
    for part in ("cautions", "next_tests", "notices"):
        for one in result[part]:
            check((one if part == "cautions" else one["text"]) in items, "%s: left out: %s" % (what, one))
    return page, result


samples = os.path.join(SOURCE, "samples")
commands = re.findall(r"`evenstroke (crank [^`]+)`", open(os.path.join(samples, "README.md"), encoding="utf-8").read())
check(len(commands) >= 7, "the page of samples names %d commands" % len(commands))
for command in commands:
    page, result = compare(command, shlex.split(command), samples)
    check(len(rows_of(page)) == len(result["cylinders"]), command + ": a row a cylinder")
    plots = [picture for picture in page.iter("svg") if picture.get("class") == "plot"]
    check(len(plots) == 2, "%s: %d pictures" % (command, len(plots)))
    kinds = [line.get("class") for plot in plots for line in plot.iter("polyline")]
    check(kinds == ["mean", "model", "trace"], "%s: lines %s" % (command, kinds))

with folder() as here:
    good = cranking_csv(here)
    flat = cranking_csv(here, "flat.csv", weak=(0, 0, 0, 0))
    page, _ = compare("positions", ["crank", good, "--cylinders", "4"], here)
    check([row[0] for row in rows_of(page)] == ["position %d" % i for i in range(1, 5)], "positions: %s" % rows_of(page))
    # Humps that no engine with these marks makes, and none at all: the reason, and nothing that could be taken for a verdict.
    for path, options in ((good, ["--order", "1-3-4-2", "--sync", "Cyl1"]), (flat, ["--cylinders", "4"])):
        page, result = compare(path, ["crank", path, "--channel", "Clamp", *options], here)
        check(result["outcome"] == "inconclusive" and not rows_of(page), path + ": a row without a verdict")
        check({s.get("class") for s in page.iter("svg")} == {"plot"}, path + ": a bar without a verdict")
    # Names that would be markup, and one in no encoding.
    text = open(good, encoding="utf-8").read().replace("Clamp", "<script>alert('x')</script>&amp;", 1)
    hostile = write(here, "b\xff\x1b<b>&'.csv".encode("latin-1").decode("utf-8", "surrogateescape"), text)
    code, stdout, stderr = run("crank", hostile, "--cylinders", "4", "--channel", "1", "--html", "-")
    page = parse(stdout, "hostile")
    check("<script>alert('x')</script>&amp;" in "".join(page.itertext()), "hostile: the name is not shown as it is")
    check("\x1b" not in stdout and "<b>&'.csv" in "".join(page.itertext()), "hostile: the path")

    # As every output: beside others, the summary still on standard output, whole or not at all.
    before = sorted(os.listdir(here))
    report = os.path.join(here, "report.html")
    code, stdout, stderr = run("crank", good, "--cylinders", "4", "--html", report, "--json", os.path.join(here, "r.json"))
    check(code in (0, 3) and stderr == "" and "Before testing" in stdout, "beside others: %d %s" % (code, stderr))
    parse(open(report, encoding="utf-8").read(), "beside others")
    code, _, stderr = run("crank", good, "--cylinders", "4", "--html", report, "--json", report)
    check(code == 2 and "two documents" in stderr.lower(), "two documents: %d %s" % (code, stderr))
    code, _, stderr = run("crank", good, "--cylinders", "4", "--html", good)
    check(code == 1 and "recording itself" in stderr, "the recording may be overwritten: " + stderr)
    for name in ("report.html", "r.json"):
        os.remove(os.path.join(here, name))
    code, _, stderr = run("crank", good, "--cylinders", "4", "--html", report,
                          preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096)))
    check(code == 1 and "cannot be written" in stderr, "file size limit: %d %s" % (code, stderr))
    check(sorted(os.listdir(here)) == before, "something stayed: %s" % os.listdir(here))
done()
