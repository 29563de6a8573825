// The page of `crank`: what it says, that it is well-formed, and its pictures' coordinates.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <regex>
#include <string>
#include <vector>

#include "evenstroke/render.hpp"
#include "render/crank_pictures.hpp"
#include "render/html.hpp"
#include "render/plot.hpp"
#include "support/holds.hpp"
#include "support/made_result.hpp"

using namespace evenstroke;
using test::holds;
using test::infinity;
using test::made;
using test::Made;
using test::not_a_number;

namespace {

std::size_t count(const std::string& text, const std::string& what) {
    std::size_t found = 0;
    for (std::size_t at = 0; (at = text.find(what, at)) != std::string::npos; at += what.size()) ++found;
    return found;
}

/// Where the tag that begins at `at` ends; npos when a '<' or the end comes first. Quoted text may hold a
/// '>'.
std::size_t end_of_tag(const std::string& page, std::size_t at) {
    bool quoted = false;
    for (std::size_t i = at + 1; i < page.size(); ++i) {
        if (page[i] == '"') quoted = !quoted;
        if (page[i] == '<') return std::string::npos;
        if (page[i] == '>' && !quoted) return i;
    }
    return std::string::npos;
}

/// What is wrong with the nesting of tags; empty when every element is closed in its turn. (std::regex would
/// go as deep as an attribute is long.)
std::string misnested(const std::string& page) {
    std::vector<std::string> open;
    // The document type is no tag.
    for (std::size_t at = 0; (at = page.find('<', at + 1)) != std::string::npos;) {
        const std::size_t end = end_of_tag(page, at);
        if (end == std::string::npos) return "a '<' that begins no tag: " + page.substr(at, 20);
        const std::string tag = page.substr(at + 1, end - at - 1);
        const std::string name = tag.substr(0, tag.find(' '));
        if (tag.empty() || tag.back() == '/') continue;
        if (tag.front() != '/') {
            open.push_back(name);
        } else {
            if (open.empty() || "/" + open.back() != name) return "closed out of turn: " + name;
            open.pop_back();
        }
    }
    return open.empty() ? "" : "not closed: " + open.back();
}

std::string page_of(const Made& m) {
    const std::string page = crank_html(m.recording, m.analysis);
    CHECK(page.starts_with("<!DOCTYPE html>\n<html lang=\"en\">"));
    CHECK(misnested(page) == "");
    CHECK_FALSE(std::regex_search(page, std::regex("\\b(nan|inf|infinity)\\b", std::regex::icase)));
    return page;
}

void judge_again(Analysis& a) {
    a.findings = judge(a.trace, a.cranking, a.angle, a.contribution, a.layout);
}

/// A cycle with four equal humps, of which the model knows all but a little.
void add_cycles(Analysis& a) {
    a.contribution.mean_cycle.clear();
    a.contribution.model_cycle.clear();
    for (int i = 0; i < 720; ++i) {
        a.contribution.mean_cycle.push_back(150 - 50 * std::cos(4 * pi * i / 360));
        a.contribution.model_cycle.push_back(a.contribution.mean_cycle.back() + 1);
    }
    a.contribution.cycles_used = 5;
}

}  // namespace

TEST_CASE("render: a page that is not well-formed -> the test of the others sees it") {
    CHECK(misnested("<!DOCTYPE html>\n<p>a<br/>b</p>") == "");
    CHECK(misnested("<!DOCTYPE html>\n<p><b>a</p></b>") != "");
    CHECK(misnested("<!DOCTYPE html>\n<p>a") != "");
    CHECK(misnested("<!DOCTYPE html>\n<p>a < b</p>") != "");
}

TEST_CASE("render: a weak cylinder -> the page says its word, figure, interval and kind of loss") {
    Made m = made();
    m.analysis.contribution.cylinders[1].loss_kind = LossKind::leak;
    m.analysis.peaks_kpa = {Figure{1000, 900, 1100}, Figure{400, 380, 420}, {}, Figure{not_a_number, 0, 0}};
    const std::string page = page_of(m);
    CHECK(holds(page, "<h1 class=\"weak\"><b>WEAK</b> Cylinder 3 is weak"));
    CHECK(holds(page, "<title>WEAK: yard.csv</title>"));
    CHECK(count(page, "<th scope=\"row\">") == 4);
    CHECK(holds(page,
                "<th scope=\"row\">cylinder 3</th>\n<td class=\"number\">40</td>\n<td class=\"number\">37 to "
                "43</td>"));
    CHECK(holds(page,
                "<td class=\"word\">weak</td>\n<td>leak</td>\n<td class=\"peak\">400 kPa (380 to "
                "420),<br/>58 psi (55 to 61)</td>"));
    // Two peaks are not known, one because it is no number; three kinds of loss are not.
    CHECK(count(page, "<td>n/a</td>\n<td class=\"peak\">n/a</td>") == 2);
    CHECK(holds(page, "Cylinder 3: the loss looks like a leak"));
    CHECK(holds(page, "<li>inrush 612 A</li>"));
    CHECK(holds(page, "yard.csv, current from &quot;Clamp&quot;"));
}

TEST_CASE("render: all findings, notices, tests and cautions -> each is on the page") {
    Made m = made();
    Analysis& a = m.analysis;
    m.recording.notices = {{"reduced", "a long recording: reduced"}};
    a.contribution.notices = {{"odd", "5 < 6 & odd"}};
    a.findings.findings.push_back({"flat-battery", "the battery is flat", {}});
    REQUIRE(a.findings.cautions.size() > 2);
    REQUIRE(a.findings.next_tests.size() > 1);
    const std::string page = page_of(m);
    for (const auto& caution : a.findings.cautions)
        CHECK_MESSAGE(holds(page, "<li>" + render::escaped(caution) + "</li>"), caution);
    for (const auto& test : a.findings.next_tests)
        CHECK_MESSAGE(holds(page, "<li>" + render::escaped(test.text) + "</li>"), test.text);
    // Each under its title, the verdict first and the cautions last, as in the summary.
    std::size_t at = page.find("<h1");
    for (const std::string title : {"The mean cycle", "The whole recording", "Cranking", "Recording",
                                    "Also found", "Notices", "Test next", "Before testing"}) {
        at = page.find("<h2>" + title + "</h2>", at);
        REQUIRE_MESSAGE(at != std::string::npos, title);
    }
    CHECK(holds(page, "<li>A long recording: reduced.</li>"));
    CHECK(holds(page, "<li>5 &lt; 6 &amp; odd.</li>"));
    CHECK(holds(page, "<li>The battery is flat.</li>"));
}

TEST_CASE("render: no verdict -> the page gives the reason and no cylinder, and every caution all the same") {
    Made m = made();
    Analysis& a = m.analysis;
    add_cycles(a);
    a.cranking.no_cranking = "the starter does not turn";
    judge_again(a);
    const std::string page = page_of(m);
    CHECK(holds(page, "<h1 class=\"inconclusive\"><b>NO VERDICT</b> The starter does not turn"));
    CHECK_FALSE(holds(page, "<table"));
    CHECK_FALSE(holds(page, "class=\"bar\""));
    CHECK_FALSE(holds(page, "class=\"mean\""));  // nor a cycle that was not measured
    CHECK_FALSE(holds(page, "rpm"));
    CHECK(count(page, "class=\"plot\"") == 1);  // the recording itself
    REQUIRE_FALSE(a.findings.cautions.empty());
    for (const auto& caution : a.findings.cautions) CHECK(holds(page, render::escaped(caution)));
    // Nothing at all.
    const Made nothing{.recording = {}, .analysis = {}};
    CHECK(holds(page_of(nothing), "<p>n/a</p>"));
}

TEST_CASE("render: an even engine with a low cylinder -> LOW, in words and in the pattern of its bar") {
    Made m = made();
    m.analysis.contribution.cylinders[1] = {
        .contribution_pct = 82, .low_pct = 79, .high_pct = 85, .simple_pct = 82, .events = 6};
    judge_again(m.analysis);
    const std::string page = page_of(m);
    CHECK(holds(page, "<h1 class=\"low\"><b>LOW</b>"));
    CHECK(count(page, "class=\"stripes\"") == 1);
    CHECK(holds(page, "<td class=\"word\">low</td>"));
}

TEST_CASE("render: NaN, infinity and unknown anywhere -> n/a, and nothing drawn of it") {
    for (const double value : {not_a_number, infinity, -infinity}) {
        Made m = made();
        Analysis& a = m.analysis;
        add_cycles(a);
        a.contribution.cylinders[0] = {.contribution_pct = value, .low_pct = value, .high_pct = value};
        a.contribution.cylinders[2] = {};
        a.contribution.mean_cycle[100] = value;
        a.contribution.model_cycle.assign(720, value);
        a.cranking.inrush_a = a.cranking.mean_a = value;
        a.cranking.start_s = a.cranking.settled_s = a.cranking.end_s = value;
        a.findings.weak_below_pct = value;
        a.drive.stall_a = Figure{value, value, value};
        a.trace.values = {0, static_cast<float>(value), 2};
        const std::string page = page_of(m);
        CHECK(count(page, "<td class=\"number\">n/a</td>\n<td class=\"number\">n/a</td>") == 2);
        CHECK(count(page, "aria-label=\"n/a\"") == 2);
        CHECK(holds(page, "<li>stall current n/a</li>"));
        CHECK(holds(page, "<li>n/a to n/a s</li>"));
        CHECK(count(page, "<polyline class=\"mean\"") == 2);  // a gap at 100 degrees
        CHECK_FALSE(holds(page, "<polyline class=\"model\""));
        // All the rest: a scale, a start and a speed that are none.
        a.trace.rate_hz = a.trace.start_s = a.angle.speed_rpm = value;
        a.contribution.mean_cycle.assign(720, value);
        CHECK(count(page_of(m), "<p>n/a</p>") == 2);
    }
}

TEST_CASE("render: names that are markup, command a terminal or are no UTF-8 -> harmless text") {
    Made m = made();
    m.recording.path = "<script>&\"'\x1b[2J\xff.csv";
    m.analysis.trace.channel = "</svg><img src=x>\x07\xc2\x9b";
    m.analysis.trace.unit = "\"><i>";
    add_cycles(m.analysis);
    const std::string page = page_of(m);
    CHECK(holds(page, "&lt;script&gt;&amp;&quot;&#39;?[2J\xEF\xBF\xBD.csv"));
    for (const std::string bad : {"<script", "<img", "<i>", "\x1b", "\x07", "\xc2\x9b", "\xff"})
        CHECK_MESSAGE(!holds(page, bad), bad);
}

TEST_CASE("render: bytes that XML forbids -> U+FFFD; what it allows stays") {
    const std::string bad = "\xEF\xBF\xBD";
    // Unicode 15, table 3-7 (well-formed UTF-8); XML 1.0 section 2.2 (Char).
    for (const char* kept :
         {"abc", "\xC2\xB5", "\xE8\xB5\xB7", "\xED\x9F\xBF", "\xF0\x9F\x9A\x97", "\xF4\x8F\xBF\xBF"})
        CHECK(render::escaped(kept) == kept);
    CHECK(render::escaped("\xC0\xAF") == bad + bad);                      // overlong
    CHECK(render::escaped("\xE0\x80\xAF") == bad + bad + bad);            // overlong
    CHECK(render::escaped("\xED\xA0\x80") == bad + bad + bad);            // surrogate
    CHECK(render::escaped("\xF4\x90\x80\x80") == bad + bad + bad + bad);  // beyond U+10FFFF
    CHECK(render::escaped("\xEF\xBF\xBF") == bad + bad + bad);            // U+FFFF
    CHECK(render::escaped("a\xE8\xB5") == "a" + bad + bad);               // cut off
    CHECK(render::escaped("\t\n\x7f") == "???");
    CHECK(render::escaped("a<b>&\"'") == "a&lt;b&gt;&amp;&quot;&#39;");
}

TEST_CASE("render: a bar -> its end, whisker and limit where the percentages lie") {
    const CylinderContribution half{.contribution_pct = 50, .low_pct = 25, .high_pct = 75};
    const std::string bar = render::contribution_bar(half, Verdict::weak, 60);
    // 4 % of the width is margin at both ends: x = 4 + 0.92 * percent.
    CHECK(holds(bar, "<rect x=\"4.00%\" width=\"46.00%\" y=\"5\" height=\"14\" class=\"weak\"/>"));
    CHECK(holds(bar, "<line x1=\"27.00%\" x2=\"73.00%\" y1=\"12\" y2=\"12\" class=\"whisker\"/>"));
    CHECK(holds(bar, "<line x1=\"59.20%\" x2=\"59.20%\" y1=\"0\" y2=\"24\" class=\"limit\"/>"));
    CHECK(holds(bar, "aria-label=\"50 %, interval 25 to 75 %\""));
    CHECK(holds(render::bar_scale(60), "class=\"end\">60</text>"));
    CHECK_FALSE(holds(render::bar_scale(not_a_number), "weak below"));
    const std::string none = render::contribution_bar({}, Verdict::unsure, 60);
    CHECK_FALSE(holds(none, "<rect"));
    CHECK_FALSE(holds(none, "whisker"));
}

TEST_CASE("render: the mean cycle of an odd-fire engine -> each firing TDC at its degree, named") {
    Made m = made();
    Analysis& a = m.analysis;
    a.layout = make_layout({}, {2, 1}, {270, 450}, {});
    a.contribution.cylinders.resize(2);
    add_cycles(a);
    const std::string picture = render::cycle_picture(a);
    // The frame is 384 wide from 62 on: 270 degrees lie at 62 + 384 * 270 / 720 = 206.
    CHECK(holds(picture, "<line x1=\"62.0\" y1=\"46.0\" x2=\"62.0\" y2=\"226.0\" class=\"tdc\"/>"));
    CHECK(holds(picture, "<line x1=\"206.0\" y1=\"46.0\" x2=\"206.0\" y2=\"226.0\" class=\"tdc\"/>"));
    CHECK(holds(picture, "<text x=\"206.0\" y=\"42.0\" class=\"middle\">1</text>"));
    CHECK(holds(picture, "<text x=\"446.0\" y=\"42.0\" class=\"middle\">2</text>"));
    CHECK(holds(picture, "firing TDC of cylinder<"));
    CHECK(holds(picture, "crank angle after the firing TDC of cylinder 2, degrees"));
    CHECK(holds(picture, ">current, A<"));
    CHECK(count(picture, "<polyline") == 2);
    a.contribution.model_cycle.clear();
    CHECK(count(render::cycle_picture(a), "<polyline") == 1);
    a.contribution.mean_cycle.clear();
    CHECK(render::cycle_picture(a) == "");
    a.angle.kind = ReferenceKind::none;
    add_cycles(a);
    CHECK(holds(render::cycle_picture(a), "firing TDC of position<"));
}

TEST_CASE("render: a wheel, which has no samples -> its speed between knots is drawn") {
    Made m = made();
    Analysis& a = m.analysis;
    a.trace.values.clear();
    a.trace.quantity = Quantity::wheel;
    a.trace.unit = "edges";
    // 6 degrees a second are 1 rpm: 720 degrees in 1 s, then in 2 s.
    a.angle.time_s = {0, 1, 3};
    a.angle.angle_deg = {0, 720, 1440};
    m.recording.duration_s = 3;
    const std::string picture = render::trace_picture(m.recording, a);
    CHECK(holds(picture, ">crank speed, rpm<"));
    CHECK(holds(picture, "The whole recording: crank speed, rpm, 60 to 120, over 0 to 3 s"));
    // In the middle of each step, 0.5 and 2 s of 3; 120 above 60 rpm, with 4 % of room at both ends:
    // 226 - 180 * 1.04 / 1.08 and 226 - 180 * 0.04 / 1.08.
    CHECK(holds(picture, "<polyline class=\"trace\" points=\"126.0,52.7 318.0,219.3\"/>"));
    a.angle.no_reference = "no tooth was seen";
    CHECK(render::trace_picture(m.recording, a) == "");
}

TEST_CASE("render: a recording of millions of samples -> a small page, and no peak is lost") {
    constexpr std::size_t many = 3'000'000;
    constexpr std::size_t page_limit = 200'000;  // bytes
    const auto noise = [](std::size_t i) { return static_cast<double>(i * 7919 % 1000) / 1000; };
    Made m = made();
    m.analysis.layout = make_layout(16, {}, {}, {});
    m.analysis.contribution.cylinders.assign(16, m.analysis.contribution.cylinders[1]);
    add_cycles(m.analysis);
    judge_again(m.analysis);
    m.analysis.trace.values.resize(many);
    for (std::size_t i = 0; i < many; ++i) m.analysis.trace.values[i] = static_cast<float>(noise(i));
    CHECK(page_of(m).size() < page_limit);

    constexpr std::size_t spike = 1'234'567;
    const auto at = [&](std::size_t i) {
        return render::PlotPoint{static_cast<double>(i), i == spike ? 50 : noise(i)};
    };
    const auto kept = render::reduced(many, at, 0, many - 1, 768);
    CHECK(kept.size() == 2 * 768);
    CHECK(std::count_if(kept.begin(), kept.end(), [](const auto& p) { return p.y == 50 && p.x == spike; }) ==
          1);
    CHECK(std::is_sorted(kept.begin(), kept.end(), [](const auto& a, const auto& b) { return a.x < b.x; }));
    // Fewer than there are columns: all of them.
    CHECK(render::reduced(5, at, 0, 4, 768).size() == 5);
    CHECK(render::reduced(0, at, 0, 4, 768).empty());
}

TEST_CASE("render: axes -> round ticks within the range; widened when it is nothing; none without numbers") {
    const auto ticks = [](double low, double high) { return render::axis_over(low, high, 5)->ticks; };
    CHECK(ticks(0, 10) == std::vector<double>{0, 2, 4, 6, 8, 10});
    CHECK(ticks(-60, 60) == std::vector<double>{-50, 0, 50});
    CHECK(ticks(103, 190) == std::vector<double>{120, 140, 160, 180});
    for (const double value : {0.0, 12.5, -3.0, 1e-40, 3e38}) {
        CAPTURE(value);
        const auto axis = render::axis_over(value, value, 5);
        REQUIRE(axis);
        CHECK(axis->low < value);
        CHECK(axis->high > value);
        CHECK(axis->ticks.size() >= 2);
    }
    CHECK_FALSE(render::axis_over(not_a_number, 1, 5));
    CHECK_FALSE(render::axis_over(0, infinity, 5));
    CHECK_FALSE(render::axis_over(1, 0, 5));
    CHECK_FALSE(render::axis_over(-1e308, 1e308, 5));
}
