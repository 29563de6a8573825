#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>
#include <sstream>

#include "evenstroke/error.hpp"
#include "evenstroke/render.hpp"
#include "render/csv_cell.hpp"
#include "render/text.hpp"
#include "support/made_result.hpp"

using namespace evenstroke;
using test::infinity;
using test::made;
using test::Made;
using test::not_a_number;

namespace {

nlohmann::json parse(const std::string& text) {
    CHECK(text.find("nan") == std::string::npos);
    CHECK(text.find("inf,") == std::string::npos);
    return nlohmann::json::parse(text);  // throws on what RFC 8259 does not allow
}

std::vector<std::string> lines_of(const std::string& text) {
    std::vector<std::string> lines;
    std::istringstream stream(text);
    for (std::string line; std::getline(stream, line);) lines.push_back(line);
    return lines;
}

}  // namespace

TEST_CASE("render: a weak cylinder -> JSON holds its figures, rounded as said") {
    const Made m = made();
    const auto json = parse(crank_json(m.recording, m.analysis));
    CHECK(json["outcome"] == "weak");
    CHECK(json["cylinders"][1]["cylinder"] == 3);
    CHECK(json["cylinders"][1]["contribution_pct"] == 40.0);
    CHECK(json["cylinders"][1]["verdict"] == "weak");
    CHECK(json["cranking"]["inrush_a"] == 612.3);
    CHECK(json["cranking"]["resting_v"].is_null());
    const std::string line = crank_json_line(m.recording, m.analysis);
    CHECK(line.find('\n') == line.size() - 1);
    CHECK(parse(line) == json);
}

TEST_CASE("render: NaN and infinity anywhere -> null, never a word that JSON lacks") {
    for (const double value : {not_a_number, infinity, -infinity}) {
        Made m = made();
        Analysis& a = m.analysis;
        a.contribution.cylinders[0] = {
            .contribution_pct = value, .low_pct = value, .high_pct = value, .simple_pct = value};
        a.contribution.speed_rpm = Figure{value, value, value};
        a.cranking.inrush_a = a.cranking.mean_a = value;
        a.cranking.start_s = a.cranking.end_s = value;
        a.angle.lead_deg = value;
        a.findings.weak_below_pct = value;
        m.recording.start_s = m.recording.duration_s = value;
        const auto json = parse(crank_json(m.recording, a));
        CHECK(json["cylinders"][0]["contribution_pct"].is_null());
        CHECK(json["cranking"]["inrush_a"].is_null());
        CHECK(json["cranking"]["start_s"].is_null());
        CHECK(json["reference"]["lead_deg"].is_null());
        for (const std::string& csv :
             {events_csv(a), cycles_csv(a), wave_csv(a), batch_csv_row(m.recording, a, 4)})
            CHECK_MESSAGE(csv.find("nan") == std::string::npos, csv);
        CHECK(summary_text(m.recording, a).find("nan %") == std::string::npos);
        CHECK(summary_text(m.recording, a).find("inrush n/a, mean n/a, n/a to n/a s") != std::string::npos);
    }
}

TEST_CASE("render: figures that are not in amperes or volts -> null, and shown with the recorded unit") {
    Made m = made();
    m.analysis.trace.unit = "mV";
    const auto json = parse(crank_json(m.recording, m.analysis));
    CHECK(json["cranking"]["inrush_a"].is_null());
    CHECK(json["cranking"]["mean_a"].is_null());
    CHECK(summary_text(m.recording, m.analysis).find("inrush 612.3 mV") != std::string::npos);
    m.analysis.trace.unit = "";
    CHECK(summary_text(m.recording, m.analysis).find("mean 150 (no unit)") != std::string::npos);
}

TEST_CASE("render: no verdict at all -> its reason, cylinders without figures, times null when not located") {
    Made m = made();
    Analysis& a = m.analysis;
    a.cranking.no_cranking = "the starter does not turn";
    a.findings = judge(a.trace, a.cranking, a.angle, a.contribution, a.layout);
    const auto json = parse(crank_json(m.recording, a));
    CHECK(json["outcome"] == "inconclusive");
    for (const char* field : {"start_s", "settled_s", "end_s", "ended_by", "speed_rpm", "cycles"})
        CHECK_MESSAGE(json["cranking"][field].is_null(), field);
    REQUIRE(json["cylinders"].size() == 4);
    for (const auto& cylinder : json["cylinders"]) {
        CHECK(cylinder["contribution_pct"].is_null());
        CHECK(cylinder["verdict"] == "unsure");
    }
    CHECK(summary_text(m.recording, a).find("starter does not turn") != std::string::npos);
    CHECK(lines_of(events_csv(a)).size() == 1);  // the header alone
}

TEST_CASE("render: TDC not known -> the lead is null, not 0") {
    Made m = made();
    m.analysis.angle.kind = ReferenceKind::wheel;
    m.analysis.angle.lead_deg = 84;
    CHECK(parse(crank_json(m.recording, m.analysis))["reference"]["lead_deg"] == 84);
    m.analysis.angle.offset_sd_deg = 180;
    CHECK(parse(crank_json(m.recording, m.analysis))["reference"]["lead_deg"].is_null());
}

TEST_CASE("render: 40 to 100 columns -> every line fits, the verdict first, nothing said by colour alone") {
    for (const int columns : {0, 40, 41, 79, 80, 100, 1000}) {
        CAPTURE(columns);
        Made m = made();
        const int most = std::min(std::max(columns, 40), 100);
        m.analysis.cranking.notices.push_back(
            {"long", std::string("A remark of many words that goes on and on ") +
                         "until no terminal could hold it in one line."});
        const std::string text = summary_text(m.recording, m.analysis, {.columns = columns});
        CHECK(text.starts_with("WEAK"));
        for (const std::string& line : lines_of(text))
            CHECK_MESSAGE(static_cast<int>(line.size()) <= most, line);
        // With the emphasis taken off, the coloured text is the plain one.
        std::string bare = summary_text(m.recording, m.analysis, {.columns = columns, .color = true});
        CHECK(bare.find("\x1b[") != std::string::npos);
        for (std::size_t at = 0; (at = bare.find("\x1b[", at)) != std::string::npos;)
            bare.erase(at, bare.find('m', at) - at + 1);
        CHECK(bare == text);
    }
}

TEST_CASE("render: names that command a terminal or are no UTF-8 -> harmless in text, valid in JSON") {
    Made m = made();
    m.recording.path = "a\x1b[2Jb\xff.csv";
    m.analysis.trace.channel = "C\x07\xc2\x9b";
    const std::string text = summary_text(m.recording, m.analysis);
    CHECK(text.find('\x1b') == std::string::npos);
    CHECK(text.find('\x07') == std::string::npos);
    CHECK(text.find("\xc2\x9b") == std::string::npos);
    CHECK(parse(crank_json(m.recording, m.analysis))["recording"]["path"].is_string());
    CHECK(parse(refusal_json_line("x\xff", Error(ErrorCode::malformed, "x\xff:1", "bad \"cell\"",
                                                 "mend it")))["error"]["code"] == "malformed");
}

TEST_CASE("render: wide characters -> two columns each, as terminals draw them") {
    CHECK(text_columns("Clamp") == 5);
    CHECK(text_columns("\xC2\xB5V") == 2);                 // µV
    CHECK(text_columns("\xE8\xB5\xB7\xE5\x8A\xA8") == 4);  // two Chinese characters
    CHECK(text_columns("\xEA\xB0\x80\xEF\xBC\xA1") == 4);  // Hangul, full-width A
    CHECK(text_columns("\xF0\x9F\x9A\x97") == 2);          // a car
    CHECK(text_columns("\x80\xFF") <= 2);                  // no UTF-8
}

TEST_CASE("render: a word longer than the line -> broken between characters, nothing lost") {
    std::string wide;
    for (int i = 0; i < 60; ++i) wide += "\xE8\xB5\xB7";
    for (const std::string& name : {std::string(300, 'X'), wide}) {
        const std::string text = render::wrap("from \"" + name + "\" on", 80, "  - ");
        std::string kept;
        std::istringstream lines(text);
        for (std::string line; std::getline(lines, line);) {
            CHECK(text_columns(line) <= 80);
            kept += line.substr(4);
        }
        CHECK(kept.find(name) != std::string::npos);
        CHECK(text.ends_with(" on\n"));
    }
    CHECK(render::wrap("one two", 40, "- ") == "- one two\n");
}

TEST_CASE("render: notices of every stage -> sentences in JSON too") {
    Made m = made();
    m.recording.notices = {{"reduced", "a long recording: reduced"}};
    m.analysis.trace.notices = {{"hum", "Mains hum."}};
    const auto document = nlohmann::json::parse(crank_json(m.recording, m.analysis));
    std::size_t seen = 0;
    for (const auto& notice : document["notices"]) {
        const auto text = notice["text"].get<std::string>();
        CHECK(sentence(text) == text);
        seen += text == "A long recording: reduced." || text == "Mains hum.";
    }
    CHECK(seen == 2);
}

TEST_CASE("render: CSV cells -> quoted as RFC 4180 section 2 says") {
    // RFC 4180, 2.5 to 2.7: fields with line breaks, quotes and commas stand in quotes; a quote is doubled.
    CHECK(render::cell("plain") == "plain");
    CHECK(render::cell("a,b") == "\"a,b\"");
    CHECK(render::cell("say \"so\"") == "\"say \"\"so\"\"\"");
    CHECK(render::cell("two\nlines") == "\"two\nlines\"");
    CHECK(render::cell("two\r\nlines") == "\"two\r\nlines\"");
    CHECK(render::cell("") == "");
    CHECK(render::cell(std::optional<double>(), 2) == "");
    CHECK(render::cell(not_a_number, 2) == "");
    CHECK(render::cell(-0.001, 2) == "0.00");
    CHECK(render::cell(12.345, 1) == "12.3");
}

TEST_CASE("render: CSV tables -> every row as long as its header, unknown is an empty cell") {
    const Made m = made();
    const auto cells = [](const std::string& line) { return std::count(line.begin(), line.end(), ','); };
    for (const std::string& table : {events_csv(m.analysis), cycles_csv(m.analysis), wave_csv(m.analysis)}) {
        const auto lines = lines_of(table);
        REQUIRE(lines.size() >= 2);
        for (const std::string& line : lines) CHECK_MESSAGE(cells(line) == cells(lines.front()), line);
    }
    CHECK(cycles_csv(m.analysis) ==
          "cycle,cylinder_1_pct,cylinder_3_pct,cylinder_4_pct,cylinder_2_pct\n1,50.0,50.0,50.0,50.0\n"
          "2,50.0,50.0,,50.0\n");
    CHECK(events_csv(m.analysis) ==
          "cycle,position,cylinder,tdc_s,peak_s,peak_a,trough_a,contribution_pct\n"
          "1,2,3,1.500000,1.400000,200.0000,120.0000,\n");
    // A recording that failed has as many cells as one that did not, its comma and quotes kept.
    Made plain = made();
    plain.recording.path = "a,\"b\".csv";
    const Error error(ErrorCode::cannot_open, "x", "gone", "look for it");
    const auto header = lines_of(batch_csv_header(6)).front();
    const auto failed = lines_of(batch_csv_refusal("plain.csv", error, 6)).front();
    CHECK(cells(failed) == cells(header));
    CHECK(batch_csv_row(plain.recording, plain.analysis, 6).starts_with("\"a,\"\"b\"\".csv\",weak,"));
}

TEST_CASE("render: one gap, one clipped run, a count of thousands -> singular and plain digits") {
    Recording recording{.path = "yard.csv", .rate_hz = 10, .recorded_rate_hz = 10, .duration_s = 12000};
    recording.channels.push_back({.name = "Count",
                                  .unit = "",
                                  .values = {0, 10000},
                                  .gaps = {{1, 2}},
                                  .clipped = {{1, 2}},
                                  .edges = {}});
    const std::string text = inspection_text(recording, {{.lowest = 0, .highest = 10000, .mean = 5000}}, {});
    CHECK(text.find("0 to 10000, mean 5000; 1 gap; clipped 1 time") != std::string::npos);
    CHECK(text.find("1 channel; 10 Hz; 12000 s from 0 s") != std::string::npos);
}

TEST_CASE("render: a current below 10 A -> digits enough to see its size") {
    Made m = made();
    m.analysis.cranking.inrush_a = 0.6283;
    m.analysis.cranking.mean_a = 0.1494;
    CHECK(summary_text(m.recording, m.analysis).find("inrush 0.628 A, mean 0.149 A") != std::string::npos);
    const auto json = parse(crank_json(m.recording, m.analysis));
    CHECK(json["cranking"]["inrush_a"] == 0.628);
    CHECK(json["cranking"]["mean_a"] == 0.149);
}
