#include <doctest/doctest.h>
#include <fmt/core.h>

#include <cmath>
#include <random>
#include <sstream>
#include <string>

#include "evenstroke/read.hpp"
#include "read/text.hpp"
#include "support/holds.hpp"

using namespace evenstroke;
using test::holds;

namespace {

Recording from(const std::string& text, const ReadOptions& options = {}) {
    std::istringstream stream(text);
    return read_text(stream, "capture.csv", options);
}

/// The refusal's place and problem in one string; "read" when there was none.
std::string refusal(const std::string& text, const ReadOptions& options = {}) {
    try {
        (void)from(text, options);
    } catch (const Error& error) {
        CHECK_FALSE(error.remedy().empty());
        return error.place() + ": " + error.what();
    }
    return "read";
}

/// Rows 0, 1, … of `count` with time step `step_s` and value i, times printed with `decimals`.
std::string rows(int count, double step_s, int decimals, const char* joint = ",") {
    std::string text;
    char line[64];
    for (int i = 0; i < count; ++i) {
        std::snprintf(line, sizeof line, "%.*f%s%d.5\n", decimals, i * step_s, joint, i);
        text += line;
    }
    return text;
}

std::string replaced(std::string text, char from_char, const std::string& to) {
    std::string result;
    for (const char c : text) result += c == from_char ? to : std::string(1, c);
    return result;
}

void check_ramp(const Recording& r, std::size_t count, double rate_hz) {
    REQUIRE(r.channels.size() == 1);
    CHECK(r.rate_hz == rate_hz);
    REQUIRE(r.channels[0].values.size() == count);
    for (std::size_t i = 0; i < count; ++i) CHECK(r.channels[0].values[i] == static_cast<float>(i) + 0.5F);
}

bool has_notice(const Recording& r, const std::string& code) {
    for (const Notice& notice : r.notices)
        if (notice.code == code) return true;
    return false;
}

}  // namespace

TEST_CASE("read: comma, semicolon, tab, blanks, decimal comma -> the same ramp") {
    const std::string plain = rows(50, 0.001, 3);
    check_ramp(from("Time (s),Clamp (A)\n" + plain), 50, 1000);
    check_ramp(from("Time (s);Clamp (A)\n" + replaced(plain, ',', ";")), 50, 1000);
    check_ramp(from("Time (s)\tClamp (A)\n" + replaced(plain, ',', "\t")), 50, 1000);
    check_ramp(from("Time (s)  Clamp (A)\n" + replaced(plain, ',', "   ")), 50, 1000);
    const std::string german = replaced(replaced(plain, ',', ";"), '.', ",");
    const Recording r = from("Zeit (s);Strom (A)\n" + german);
    check_ramp(r, 50, 1000);
    CHECK(r.format == "text, semicolon, decimal comma");
    CHECK(r.channels[0].name == "Strom");
    CHECK(r.channels[0].unit == "A");
    check_ramp(from("Zeit\tStrom\n" + replaced(german, ';', "\t")), 50, 1000);
    check_ramp(from(replaced(german, ';', "  ")), 50, 1000);
}

TEST_CASE("read: LF, CRLF, CR, byte-order marks -> the same ramp") {
    const std::string text = "Time (s),Clamp (A)\n" + rows(40, 0.0001, 4);
    check_ramp(from(replaced(text, '\n', "\r\n")), 40, 10000);
    check_ramp(from(replaced(text, '\n', "\r")), 40, 10000);
    check_ramp(from("\xEF\xBB\xBF" + text), 40, 10000);
    std::string wide = "\xFF\xFE";
    for (const char c : text) wide += std::string{c, '\0'};
    check_ramp(from(wide), 40, 10000);
    std::string wide_big = "\xFE\xFF";
    for (const char c : text) wide_big += std::string{'\0', c};
    check_ramp(from(wide_big), 40, 10000);
    check_ramp(from(text.substr(0, text.size() - 1)), 40, 10000);  // RFC 4180 2.2: the last CRLF is optional
}

TEST_CASE("read: quotes by RFC 4180 -> commas, line ends and doubled quotes inside") {
    // RFC 4180, section 2, rules 5 to 7.
    std::string text = "\"Time (s)\",\"Clamp, 600 \"\"A\"\"\nrange\"\n";
    for (int i = 0; i < 20; ++i)
        for (const std::string& part : {std::string("\""), std::to_string(i * 0.5), std::string("\",\""),
                                        std::to_string(i), std::string(".5\"\n")})
            text += part;
    const Recording r = from(text);
    check_ramp(r, 20, 2);
    CHECK(r.channels[0].name == "Clamp, 600 \"A\" range");
}

TEST_CASE("read: a stray quote in a remark -> does not swallow the file") {
    check_ramp(from("Screen 5\" wide\n\nTime (s),Clamp (A)\n" + rows(20, 0.001, 3)), 20, 1000);
}

TEST_CASE("read: preamble, header and unit line -> names and units") {
    const Recording r = from("Model,Bench\nPoints,20\n\nTime,Clamp,Battery\n(ms),(A),(mV)\n\n" +
                             replaced(rows(20, 1, 1), '\n', ",12000\n"));
    REQUIRE(r.channels.size() == 2);
    CHECK(r.channels[0].name == "Clamp");
    CHECK(r.channels[0].unit == "A");
    CHECK(r.channels[1].name == "Battery");
    CHECK(r.channels[1].unit == "mV");
    CHECK(r.rate_hz == 1000);
}

TEST_CASE("read: delimiters at the end of rows or titles -> titles and units kept") {
    const std::string plain = replaced(rows(20, 0.5, 1), '\n', ",1\n");
    const std::string trailing = replaced(plain, '\n', ",\n");
    const std::string titles = "Time (ms),Clamp (A),Cyl1 (V)";
    for (const std::string& text :
         {titles + "\n" + plain, titles + "\n" + trailing, titles + ",,\n" + plain,
          titles + ",,\n" + trailing, titles + "\n" + replaced(trailing, '\n', ",\n"),
          "Time,Clamp,Cyl1\n(ms),(A),(V)\n" + trailing}) {
        CAPTURE(text.substr(0, 60));
        const Recording r = from(text);
        CHECK(r.rate_hz == 2000);
        REQUIRE(r.channels.size() == 2);
        CHECK(r.channels[0].name == "Clamp");
        CHECK(r.channels[0].unit == "A");
        CHECK(r.channels[1].name == "Cyl1");
        CHECK(r.channels[1].unit == "V");
        CHECK(r.notices.empty());
    }
    CHECK(holds(refusal("Time (s),A\n" + replaced(replaced(rows(20, 0.001, 3), '.', ","), '\n', ",\n")),
                "commas both separate"));
}

TEST_CASE("read: other lines between titles and numbers -> titles and units kept") {
    const std::string plain = replaced(rows(20, 0.5, 1), '\n', ",1\n");
    for (const char* between : {"Samples: 10001\n", "Coupling,DC,DC\nRange,10 V,10 V\n", "Offset,0,0\n",
                                "\nPoints,20\n\n", "Sample interval,0.0005\n", "20\n", "# by hand\n"}) {
        CAPTURE(std::string(between));
        const Recording r =
            from("Model,Bench\nTime (ms),Clamp (A),Cyl1 (V)\n" + std::string(between) + plain);
        CHECK(r.rate_hz == 2000);
        REQUIRE(r.channels.size() == 2);
        CHECK(r.channels[0].name == "Clamp");
        CHECK(r.channels[1].unit == "V");
        CHECK(r.channels[0].values.size() == 20);
        CHECK(r.notices.empty());
    }
    CHECK(holds(refusal("Time (s),A\nPoints\n" + replaced(rows(20, 0.001, 3), '.', ",")),
                "commas both separate"));
}

TEST_CASE("read: a date or settings above the titles -> the titles nearest to the numbers") {
    const std::string plain = rows(20, 0.5, 1);
    for (const char* above : {"Date,Monday\n", "Time,10:15:00\n", "Timebase (ms),5\n", "Time,Mode\n"}) {
        CAPTURE(std::string(above));
        const Recording r = from(std::string(above) + "Seconds,Clamp\n" + plain);
        REQUIRE(r.channels.size() == 1);
        CHECK(r.channels[0].name == "Clamp");
        CHECK(r.rate_hz == 2);
    }
    // A title that names neither time nor a unit counts when it stands just above the numbers.
    const Recording r = from("Date,Monday\nClamp,Battery\n1,2\n3,2\n1,4\n3,2\n1,2\n3,2\n1,2\n3,2\n",
                             ReadOptions{.rate_hz = 500});
    REQUIRE(r.channels.size() == 2);
    CHECK(r.channels[0].name == "Clamp");
}

TEST_CASE("read: a comma in a title without quotes -> the title in one piece") {
    const Recording r =
        from("Time (ms),Clamp, big (A),Sync (V)\n" + replaced(rows(20, 0.5, 1), '\n', ",1\n"));
    REQUIRE(r.channels.size() == 2);
    CHECK(r.channels[0].name == "Clamp, big");
    CHECK(r.channels[1].name == "Sync");
    CHECK(r.rate_hz == 2000);
}

TEST_CASE("read: more or fewer titles than columns -> said with their line, the time's still used") {
    const std::string plain = replaced(rows(20, 0.5, 1), '\n', ",1\n");
    for (const char* titles : {"Time (ms),Clamp (A)\n", "Time (ms),Clamp (A),Sync (V),Spare (V)\n"}) {
        const Recording r = from("Bench\n" + std::string(titles) + plain);
        CHECK(r.rate_hz == 2000);
        CHECK(r.channels[0].name == "Channel 1");
        REQUIRE(r.notices.size() == 1);
        CHECK(r.notices[0].code == "titles-unused");
        CHECK(holds(r.notices[0].text, "line 2"));
        CHECK(holds(r.notices[0].text, "only the first"));
    }
    const Recording r = from("Clamp (A),Time (ms)\n" + plain);
    CHECK(has_notice(r, "titles-unused"));
    CHECK(r.channels[0].name == "Channel 1");
}

TEST_CASE("read: rows that begin with their number, not the titles -> titles kept") {
    std::string text = "\"Time (ms)\",\"Clamp (A)\"\n";
    for (int i = 0; i < 20; ++i)
        text += "\"" + std::to_string(i + 1) + "\"," + std::to_string(i * 0.5) + "," + std::to_string(i % 7) +
                "\n";
    const Recording r = from(text);
    CHECK(r.rate_hz == 2000);
    CHECK(r.channels.back().name == "Clamp");
    CHECK(r.channels.back().unit == "A");
}

TEST_CASE("read: a word in the first rows -> refused with its line and column, titles kept") {
    const std::string titles = "Time (ms),Clamp (A),Sync (V)\n";
    const std::string plain = replaced(rows(20, 0.5, 1), '\n', ",1\n");
    CHECK(holds(refusal(titles + "-0.5,abc,3\n" + plain), "capture.csv:2:2: column 2 (Clamp) holds \"abc\""));
    CHECK(holds(refusal(titles + "-0.5,---,error\n" + plain), "capture.csv:2:3: column 3 (Sync)"));
    CHECK(holds(refusal(titles + "-1.0,2,3\n-0.5,abc,3\n" + plain), "capture.csv:3:2: column 2 (Clamp)"));
    CHECK(holds(refusal(titles + "-0.5x,2,3\n" + plain), "capture.csv:2:1: the time in column 1 (Time)"));
    CHECK(holds(refusal(titles + "-0.5,2\n" + plain), "capture.csv:2: this row has 2 cells"));
    CHECK(holds(refusal("-0.5,abc,3\n" + plain), "capture.csv:1:2: column 2 holds \"abc\""));
    // A sound row above it must not go with it.
    CHECK(holds(refusal(titles + "-1.0,2,3\n?-0.5,2,3\n" + plain),
                "capture.csv:3:1: the time in column 1 (Time)"));
    // But settings under the titles, set off from the rows, are passed over.
    for (const char* settings :
         {"10 kHz,20 V,20 V\n\n", "2026-03-02,,\n\n", "1 kHz,20 V,20 V\ncoupling,DC,DC\n"}) {
        CAPTURE(std::string(settings));
        CHECK(from(titles + settings + plain).rate_hz == 2000);
    }
    CHECK(holds(refusal("Interval (s);1e-4\n\nA;B\n(V);(A)\n-1,0;2\n3I5;2\n" +
                        replaced(replaced(rows(20, 0.5, 1), ',', ";"), '.', ",")),
                "capture.csv:6:1: column 1 (A) holds \"3I5\""));
    // Nor may a number damaged in front of the others hide the titles.
    CHECK(holds(refusal("Sample rate: 2 kHz\nA,B\n0.5,f2\n1.5,3\n2~5,4\n" + rows(20, 1, 0)),
                "capture.csv:3:2: column 2 (B) holds \"f2\""));
}

TEST_CASE("read: a running number beside the time -> left out, wherever it stands") {
    for (const char* title : {"Sample", "No.", "Index", "#", "Scan", ""}) {
        CAPTURE(std::string(title));
        std::string before = std::string(title) + ",Time (s),Clamp (A)\n";
        std::string behind = "Time (s),Clamp (A)," + std::string(title) + "\n";
        for (int i = 0; i < 20; ++i) {
            const std::string row = std::to_string(i * 0.5) + "," + std::to_string(i % 7);
            before += std::to_string(i + 1) + "," + row + "\n";
            behind += row + "," + std::to_string(i) + "\n";
        }
        for (const std::string& text : {before, behind}) {
            const Recording r = from(text);
            REQUIRE(r.channels.size() == 1);
            CHECK(r.channels[0].name == "Clamp");
            CHECK(r.rate_hz == 2);
        }
    }
    // Rows left out: so titled it is a running number all the same.
    std::string text = "Sample,Time (s),Clamp (A)\n";
    for (int i = 0; i < 40; ++i)
        if (i != 20)
            text += std::to_string(i) + "," + std::to_string(i * 0.5) + "," + std::to_string(i % 7) + "\n";
    CHECK(from(text).channels.size() == 1);
    // A ramp in a unit is a channel, and so is what does not rise, whatever its title.
    std::string ramp = "Time (s),Clamp (A),Count\n";
    for (int i = 0; i < 20; ++i)
        ramp += std::to_string(i * 0.5) + "," + std::to_string(i) + "," + std::to_string(i % 7) + "\n";
    CHECK(from(ramp).channels.size() == 2);
}

TEST_CASE("read: a channel without a number -> left out, but known by its name") {
    for (const char* word : {"", "NaN", "OL", "-inf"}) {
        std::string text = "Time (s),Clamp (A),Sync\n";
        for (int i = 0; i < 20; ++i)
            text += std::to_string(i * 0.5) + "," + word + "," + std::to_string(i % 7) + "\n";
        const Recording r = from(text);
        REQUIRE(r.channels.size() == 1);
        REQUIRE(r.empty_channels.size() == 1);
        CHECK(r.empty_channels[0] == "Clamp");
        CHECK(find_channel(r, "sync") == 0);
        std::string said;
        try {
            (void)find_channel(r, "clamp");
        } catch (const Error& error) {
            said = error.place() + ": " + error.what() + ". " + error.remedy();
        }
        CHECK(holds(said, "capture.csv, channel \"Clamp\": this channel holds no number"));
        CHECK(holds(said, "1 \"Sync\""));
    }
}

TEST_CASE("read: no header -> numbered channels") {
    const Recording r = from(rows(20, 0.001, 3));
    check_ramp(r, 20, 1000);
    CHECK(r.channels[0].name == "Channel 1");
    CHECK(r.channels[0].unit.empty());
}

TEST_CASE("read: time in ms, microseconds, negative before a trigger -> seconds") {
    CHECK(from("Time [ms],A\n" + rows(20, 0.5, 1)).rate_hz == 2000);
    CHECK(from("Time (\xC2\xB5s),A\n" + rows(20, 50, 0)).rate_hz == 20000);
    CHECK(from("Time (\xB5s),A\n" + rows(20, 50, 0)).rate_hz == 20000);  // Latin-1
    std::string text = "t,A\n";
    for (int i = -10; i < 10; ++i) text += std::to_string(i) + "e-3,1\n";
    const Recording r = from(text);
    CHECK(r.start_s == doctest::Approx(-0.010).epsilon(1e-12));
    CHECK(r.rate_hz == 1000);
}

TEST_CASE("read: a quote that is never closed -> refused with its line, each line after it looked at once") {
    // Every line looked at again with all before it took a minute for so many.
    const std::string text =
        "Time (s),Clamp (A)\n" + rows(20, 0.5, 1) + "10.0,\"" + std::string(250'000, '\n');
    CHECK(holds(refusal(text), "capture.csv:22: a quote opened in this line is never closed"));
    // A line end inside a cell that is closed, and a doubled quote.
    const std::string titled = "\"Time\n(s)\",\"Clamp \"\"1\"\"\"\n" + rows(20, 0.5, 1);
    check_ramp(from(titled), 20, 2);
}

TEST_CASE("read: a pause in a table of very many columns -> refused before its values fill the memory") {
    std::string row;
    for (int i = 0; i < 999; ++i) row += ",1";
    std::string text;
    for (int i = 0; i < 40; ++i) text += fmt::format("{:.3f}{}\n", i * 0.001 + (i < 20 ? 0 : 900), row);
    CHECK(
        holds(refusal(text), "capture.csv:21: time jumps to 900.020: far more is missing than was recorded"));
    // In one channel so long a pause is a gap, as it was.
    for (std::size_t at = 0; (at = text.find(row)) != std::string::npos;) text.replace(at, row.size(), ",1");
    CHECK(has_notice(from(text), "rows-missing"));
}

TEST_CASE("read: a temperature, a position or a date beside the time -> a channel, wherever it stands") {
    for (const char* beside : {"T (\xC2\xB0"
                               "C)",
                               "x [mm]", "T", "X", "Date"})
        for (const char* time : {"Time (ms)", "Zeit [ms]", "t (ms)", "Elapsed / ms"}) {
            CAPTURE(std::string(beside) + "," + time);
            std::string text = std::string(beside) + "," + time + ",Clamp (A)\n";
            for (int i = 0; i < 40; ++i)
                text += std::to_string(20 + i / 10) + "," + std::to_string(i * 0.5) + ",1\n";
            CHECK(from(text).rate_hz == 2000);
            CHECK(from(text).channels.size() == 2);
        }
    // A word without a unit goes before weak words.
    const Recording r = from("X,Time,Clamp\n" + replaced(rows(20, 0.5, 1), '\n', ",1\n"));
    CHECK(r.channels.size() == 2);
    CHECK(r.channels[0].name == "X");
    // Two columns that only a weak word calls time, and that differ, are told apart by nobody.
    std::string both = "T,t,Clamp\n";
    for (int i = 0; i < 20; ++i) both += std::to_string(20 + i) + "," + std::to_string(i * 0.5) + ",1\n";
    CHECK(holds(refusal(both), "capture.csv:2: columns 1 (T) and 2 (t) could both be the time, but differ"));
}

TEST_CASE("read: a time column for each channel -> one when they are equal, refused when they differ") {
    const auto text = [](const char* titles, double shift) {
        std::string result = std::string(titles) + "\n";
        for (int i = 0; i < 20; ++i)
            result += std::to_string(i * 0.5) + ",1," + std::to_string(i * 0.5 + shift) + ",2\n";
        return result;
    };
    const Recording r = from(text("Time (ms),Clamp (A),Time (ms),Sync (V)", 0));
    CHECK(r.rate_hz == 2000);
    REQUIRE(r.channels.size() == 2);
    CHECK(r.channels[1].name == "Sync");
    for (const char* titles : {"Time (ms),Clamp (A),Time (ms),Sync (V)", "Time1,Clamp,Time2,Sync"})
        CHECK(holds(refusal(text(titles, 3)), "capture.csv:2: columns 1 (Time"));
    // A clock just beside tells the same otherwise.
    std::string clock = "Timestamp,Time (s),Clamp (A)\n";
    for (int i = 0; i < 20; ++i) clock += std::to_string(1000 + i) + "," + std::to_string(i * 0.001) + ",1\n";
    CHECK(from(clock).rate_hz == 1000);
    CHECK(from(clock).channels.size() == 1);
}

TEST_CASE("read: a clock or an epoch behind a channel -> left out when it advances as the time does") {
    const auto text = [](const char* titles, const char* stamp, double step) {
        std::string result = std::string(titles) + "\n";
        char line[96];
        for (int i = 0; i < 20; ++i) {
            std::snprintf(line, sizeof line, "%.4f,%d.5,%s%07.4f\n", i * 0.0005, i, stamp, 1 + i * step);
            result += line;
        }
        return result;
    };
    check_ramp(from(text("Time (s),Clamp (A),Timestamp", "2026-03-02 10:15:", 0.0005)), 20, 2000);
    check_ramp(from(text("Elapsed (s),Clamp (A),Time", "10:15:", 0.0005)), 20, 2000);
    check_ramp(from(text("Time (s),Clamp (A),Epoch", "17000000", 0.0005)), 20, 2000);
    std::string whole_seconds = "Time (s),Clamp (A),Clock\n" + replaced(rows(20, 0.1, 1), '\n', ",10:15:0");
    for (std::size_t at = whole_seconds.find(":0"), i = 0; at != std::string::npos;
         at = whole_seconds.find(":0", at + 1), ++i)
        whole_seconds.insert(at + 2, std::to_string((i + 7) / 10) + "\n");
    check_ramp(from(whole_seconds), 20, 10);
    CHECK(holds(refusal(text("Time (s),Clamp (A),Timestamp", "2026-03-02 10:15:", 0.0007)),
                "capture.csv:2: columns 1 (Time) and 3 (Timestamp)"));
    CHECK(holds(refusal(text("Time (s),Clamp (A),Time (s)", "", 0.0005)), "capture.csv:2: columns 1"));
}

TEST_CASE("read: least and most of an envelope -> channels, no minutes") {
    std::string values = "Clamp min,Clamp max\n";
    std::string rising = "fuel_min,Clamp\n";
    for (int i = 0; i < 20; ++i) {
        values += std::to_string(i % 3) + "," + std::to_string(4 + i % 3) + "\n";
        rising += std::to_string(i * 0.5) + "," + std::to_string(4 + i % 3) + "\n";
    }
    for (const std::string& text : {values, rising}) {
        const Recording r = from("Sample interval,0.0005\n" + text);
        CHECK(r.rate_hz == 2000);
        REQUIRE(r.channels.size() == 2);
        CHECK(holds(r.channels[0].name, "min"));
        CHECK(r.channels[0].unit.empty());
    }
    CHECK(from("Time (min),Clamp\n" + rows(20, 1, 0)).rate_hz == doctest::Approx(1 / 60.0));
    // A duration in milliseconds is time only when it goes on as time does.
    std::string duration = "Sample interval,0.0005\nInjection (ms),Clamp (A)\n";
    for (int i = 0; i < 20; ++i) duration += std::to_string(i / 4) + "," + std::to_string(i % 5) + "\n";
    CHECK(from(duration).rate_hz == 2000);
    CHECK(from(duration).channels.size() == 2);
}

TEST_CASE("read: a colon behind a title -> no part of its name or unit") {
    const Recording r = from("Time(ms):,Clamp (A) :\n" + rows(20, 0.5, 1));
    check_ramp(r, 20, 2000);
    CHECK(r.channels[0].name == "Clamp");
    CHECK(r.channels[0].unit == "A");
    CHECK(holds(refusal("Time(fortnights):,Clamp (A)\n" + rows(20, 0.5, 1)), "unit \"fortnights\""));
}

TEST_CASE("read: the ratio of a probe in a title -> no unit") {
    for (const char* title :
         {"Clamp 10mV/A", "Clamp 10 mV/A", "Clamp (10 mV/A)", "Pressure 5V/bar", "Clamp 100 A/V"}) {
        const Recording r = from("Time (s)," + std::string(title) + "\n" + rows(20, 0.001, 3));
        CHECK(r.channels[0].name == title);
        CHECK(r.channels[0].unit.empty());
    }
    const Recording r = from("Time (s),Cylinder 1/bar\n" + rows(20, 0.001, 3));
    CHECK(r.channels[0].name == "Cylinder 1");
    CHECK(r.channels[0].unit == "bar");
}

TEST_CASE("read: sample interval or rate in a line, or given -> no time column needed") {
    std::string values;
    for (int i = 0; i < 20; ++i) values += std::to_string(i) + ".5\n";
    check_ramp(from("Sample interval,0.0001\nClamp (A)\n" + values), 20, 10000);
    check_ramp(from("Interval (s); 1e-4\nClamp (A)\n" + values), 20, 10000);
    check_ramp(from("Samples/sec: 10000\nClamp (A)\n" + values), 20, 10000);
    check_ramp(from("Sample rate: 10 kHz\nClamp (A)\n" + values), 20, 10000);
    check_ramp(from("Sampling Rate,1 MS/s\n" + values, ReadOptions{.rate_hz = {}, .keep_rate_hz = 1e6}), 20,
               1e6);
    check_ramp(from("Interval,100,us\nClamp (A)\n" + values), 20, 10000);
    check_ramp(from("Clamp (A)\n" + values, ReadOptions{.rate_hz = 500}), 20, 500);
    const Recording both = from("Sample interval,0.0001\nClamp (A)\n" + values, ReadOptions{.rate_hz = 500});
    check_ramp(both, 20, 10000);
    CHECK(has_notice(both, "rate-ignored"));
    CHECK(holds(refusal("Sample rate: -5 Hz\n" + values),
                "capture.csv:1: the sample rate or interval is not above 0"));
    CHECK(holds(refusal("Sample rate: 0 Hz\n" + values),
                "capture.csv:1: the sample rate or interval is not above 0"));
    CHECK(holds(refusal(values, ReadOptions{.rate_hz = 0}), "--rate"));
}

TEST_CASE("read: a rate or times that no recorder has -> refused with the line or column that gives them") {
    const auto stamped = [](const char* format, double first, double step) {
        std::string text = "Time (s),Clamp (A)\n";
        for (int i = 0; i < 20; ++i)
            text += fmt::format(fmt::runtime(format), first + i * step) + "," + std::to_string(i * 7 % 5) +
                    ".5\n";
        return text;
    };
    std::string values = "Clamp (A)\n";
    for (int i = 0; i < 20; ++i) values += std::to_string(i) + ".5\n";
    // Steps of no length, of no end, and of neither; what lies between them is no number of samples.
    for (const double step : {1e-310, 1e-300, 1e-11, 1e4, 1e307}) {
        CAPTURE(step);
        CHECK(holds(refusal(stamped("{:.17g}", -10 * step, step)), "capture.csv, column 1: "));
    }
    std::string endless = "Time (s),Clamp (A)\n-1.7e308,0.5\n" + rows(20, 1, 0) + "1.7e308,1.5\n";
    CHECK(holds(refusal(endless), "of 1 channel are no recording"));
    for (const char* line : {"Sample rate: 1e-320", "Sample rate: 1e300", "Sample interval: 1e308 min",
                             "Sample interval: 1e-12 s"})
        CHECK(holds(refusal(std::string("Model,1\n") + line + "\n" + values), "capture.csv:2: "));
    for (const double rate_hz : {1e-300, 1e300})
        CHECK(holds(refusal(values, ReadOptions{.rate_hz = rate_hz}), "--rate: "));
    // A fast scope, and a slow logger.
    CHECK(from("Sample rate: 1000 MS/s\n" + values).recorded_rate_hz == 1e9);
    CHECK(from(stamped("{:.17g}", 0, 60)).channels[0].values.size() == 20);
}

TEST_CASE(
    "read: a decimal comma in the rate above whole numbers -> read, or refused where it may part cells") {
    std::string values = "Strom\n";
    for (int i = 0; i < 20; ++i) values += std::to_string(i * 7 % 5) + "\n";
    for (const char* line : {"Abtastrate: 1,5 kHz", "Abtastrate 1,5 kHz", "Abtastrate;1,5 kHz",
                             "Sample rate = 1,5 kS/s", "Abtastrate (kHz);1,5", "Abtastrate 1,500 Hz"}) {
        CAPTURE(std::string(line));
        CHECK(from(std::string(line) + "\n" + values).rate_hz == 1500);
    }
    // A comma behind a channel's number, or before many digits, parts cells; so does one before a setting.
    for (const char* line : {"Sample rate CH1,1500 Hz", "Sample rate 1,1500 Hz", "Sample rate Ch 2,1500 Hz",
                             "Sample rate,1500,5 V", "Sample rate: 1500, 4 channels",
                             "Sample rate,1500,1500 Hz", "Sample interval,0.00066666666667,10 s"}) {
        CAPTURE(std::string(line));
        CHECK(from(std::string(line) + "\n" + values).rate_hz == doctest::Approx(1500));
    }
    for (const char* line : {"Sample rate: 2000,4", "Sample rate: 1,2,3 Hz", "Sample rate,1,5 kHz"}) {
        CAPTURE(std::string(line));
        CHECK(holds(refusal(std::string(line) + "\n" + values), "; line 1 does not say"));
    }
}

TEST_CASE("read: lines with other rates -> only that of the samples counts, two that differ are refused") {
    std::string values = "Clamp (A)\n";
    for (int i = 0; i < 20; ++i) values += std::to_string(i) + ".5\n";
    for (const char* other : {"Maximum sample rate: 4 kHz", "Frame rate;1000 Hz", "Baud rate,115200",
                              "Rate,7", "Trigger interval: 1 ms", "Display update rate: 30 Hz"}) {
        CAPTURE(std::string(other));
        check_ramp(from("Sample rate: 2 kHz\n" + std::string(other) + "\n" + values), 20, 2000);
        check_ramp(from(std::string(other) + "\nSample rate: 2 kHz\n" + values), 20, 2000);
    }
    CHECK(holds(refusal("Baud rate,115200\n" + values), "no time"));
    CHECK(holds(refusal("Sample rate: 2 kHz\nSample interval: 1 ms\n" + values),
                "capture.csv:4: lines 1 and 2 give different sample rates"));
    CHECK(holds(refusal("Channel,Clamp,Sync\nSample rate (Hz),1000,2000\n" + rows(20, 0.3, 1)),
                "capture.csv:3: line 2 gives the channels different sample rates"));
    // Beside a time column a rate that does not hold for the rows is no harm.
    check_ramp(from("Sample rate: 2 kHz\nSample rate: 1 MHz\nTime (ms),Clamp\n" + rows(20, 0.5, 1)), 20,
               2000);
    CHECK(from("Model,1\nSample rate: 2 kHz\n" + values).format == "text, tab, rate by line 2");
}

TEST_CASE("read: a running number that skips samples -> the interval so many times, and said") {
    std::string text = "Sample interval,50 us\nSample,Clamp (A)\n";
    for (int i = 0; i < 20; ++i) text += std::to_string(10 * i) + "," + std::to_string(i) + ".5\n";
    const Recording r = from(text);
    check_ramp(r, 20, 2000);
    CHECK(has_notice(r, "samples-skipped"));
}

TEST_CASE("read: a rate in other words, with thousands, without a separator -> read") {
    std::string values = "Clamp (A)\n";
    for (int i = 0; i < 20; ++i) values += std::to_string(i) + ".5\n";
    for (const char* line :
         {"Sample rate: 2,000 Hz", "Sample rate 2kHz", "XINCR,0.0005", "# fs = 2 kHz", "sample_interval=5e-4",
          "Fr\xC3\xA9quence d'\xC3\xA9"
          "chantillonnage: 2000 Hz"}) {
        CAPTURE(std::string(line));
        check_ramp(from(std::string(line) + "\n" + values), 20, 2000);
    }
    CHECK(
        from("Sample rate: 2.000 Hz\nStrom;Sync\n" + replaced(replaced(rows(20, 0.5, 1), ',', ";"), '.', ","))
            .rate_hz == 2000);
}

TEST_CASE("read: the unit of a rate or interval at the end of its key -> obeyed") {
    std::string values = "Clamp (A)\n";
    for (int i = 0; i < 20; ++i) values += std::to_string(i) + ".5\n";
    for (const char* line :
         {"SampleInterval_ms,0.5", "sample_interval_ms=0.5", "Sample interval ms,0.5",
          "Sample interval us: 500", "Sample rate kHz: 2", "sample_rate_khz,2", "Sample interval in ms: 0.5",
          "Samples per second,2000", "dt_ms=0.5", "fs_hz,2000", "rate_hz=2000", "interval_s=0.0005"}) {
        CAPTURE(std::string(line));
        check_ramp(from(std::string(line) + "\n" + values), 20, 2000);
    }
}

TEST_CASE("read: a rate of some name with its unit -> read; without -> refused with its line") {
    std::string values = "Clamp (A)\n";
    for (int i = 0; i < 20; ++i) values += std::to_string(i) + ".5\n";
    for (const char* line : {"ADC rate,2000 Hz", "Capture rate = 2 kHz", "Acquisition interval: 500 us",
                             "Measurement interval: 500 us", "Rate per channel (Hz),2000"}) {
        CAPTURE(std::string(line));
        check_ramp(from(std::string(line) + "\n" + values), 20, 2000);
        // Less than a line that names the samples.
        check_ramp(from(std::string(line) + "\nSample rate: 4 kHz\n" + values), 20, 4000);
    }
    for (const char* line : {"Data rate,2000", "Horizontal Interval,0.0005", "Time base interval,0.0005",
                             "Channel rate,2000", "Flow rate: 3 l/min"}) {
        CAPTURE(std::string(line));
        CHECK(holds(refusal("Model,1\n" + std::string(line) + "\n" + values), "; line 2 does not say"));
    }
}

TEST_CASE("read: marks that can only part thousands -> refused with their cell") {
    const auto text = [](const char* joint, const std::string& big) {
        std::string result = std::string("Time (ms)") + joint + "Clamp (mA)\n";
        for (int i = 0; i < 20; ++i)
            result += std::to_string(i) + joint + (i == 10 ? big : std::to_string(300 + i)) + "\n";
        return result;
    };
    CHECK(
        holds(refusal(text("\t", "12,600")), "capture.csv:12:2: the mark in \"12,600\" separates thousands"));
    CHECK(
        holds(refusal(text(";", "-1.234")), "capture.csv:12:2: the mark in \"-1.234\" separates thousands"));
    // A zero in front, another number of decimals, or whole numbers beyond 999: decimals.
    for (const char* decimal : {"0.366", "12.60"}) CHECK(refusal(text(";", decimal)) == "read");
    std::string large = text(";", "12.600");
    large.replace(large.find(";300"), 4, ";3000");
    CHECK(refusal(large) == "read");
}

TEST_CASE("read: three decimals below short whole numbers -> decimals") {
    for (const char* whole : {"0", "-0", "12"}) {
        CAPTURE(std::string(whole));
        std::string text = "Time (s);Battery (V)\n";
        for (int i = 0; i < 20; ++i)
            text += std::to_string(i) + ";" + (i < 5 ? std::string(whole) : "12,6" + std::to_string(10 + i)) +
                    "\n";
        const Recording r = from(text);
        CHECK(r.channels[0].values[19] == 12.629F);
    }
}

TEST_CASE("read: two channels of one name -> told apart by a number") {
    std::string text = "Time (s),CH,Ch,CH #2\n";
    for (int i = 0; i < 20; ++i) text += std::to_string(i * 0.5) + ",1,2," + std::to_string(i % 5) + "\n";
    const Recording r = from(text);
    REQUIRE(r.channels.size() == 3);
    CHECK(r.channels[0].name == "CH");
    CHECK(r.channels[1].name == "Ch #2");
    CHECK(r.channels[2].name == "CH #2 #2");
    CHECK(find_channel(r, "ch #2") == 1);
    // As many as are read: every one has a name of its own, in no time that anybody notices.
    std::string titles = "Time (s)";
    std::string row;
    for (int i = 0; i < 999; ++i) titles += ",CH", row += ",1";
    std::string many = titles + "\n";
    for (int i = 0; i < 10; ++i) many += std::to_string(i * 0.5) + row + "\n";
    CHECK(from(many).channels.back().name == "CH #999");
}

TEST_CASE("read: other line ends in one line, or doubled -> those of most lines") {
    const std::string text = "Model\nTime (s),Clamp (A)\n" + rows(40, 0.0001, 4);
    std::string mixed = text;
    mixed[5] = '\r';
    CHECK(from(mixed).channels[0].values.size() == 40);
    check_ramp(from(replaced(text, '\n', "\r\r\n")), 40, 10000);
    std::string fed = replaced(text, '\n', "\r");
    fed[5] = '\n';
    CHECK(from(fed).channels[0].values.size() == 40);
}

TEST_CASE("read: decimals only after thousands of whole rows -> their own mark") {
    for (const char* mark : {",", "."}) {
        std::string text = "Zeit (ms);Strom (A)\n";
        for (int i = 0; i < 2500; ++i)
            text += std::to_string(i) + ";" + (i < 2300 ? "0" : "1" + std::string(mark) + "5") + "\n";
        const Recording r = from(text);
        CHECK(r.channels[0].values.back() == 1.5F);
    }
}

TEST_CASE("read: a unit of time in another spelling or bracket -> known; an unknown one -> refused by name") {
    for (const char* title : {"Time (uS)", "Time [US]", "t / usec", "Time (\xC2\xB5sec)", "Time {us}",
                              "Time <us>", "micros", "Tijd (us)", "Zeitstempel (us)"}) {
        CAPTURE(std::string(title));
        const Recording r = from(std::string(title) + ";Clamp (A)\n" + replaced(rows(20, 50, 0), ',', ";"));
        CHECK(r.rate_hz == 20000);
        CHECK_FALSE(has_notice(r, "time-unit-assumed"));
    }
    for (const char* title : {"Time [ticks]", "Time (ticks)", "Zeit (ticks)"})
        CHECK(holds(refusal(std::string(title) + ",Clamp\n" + rows(20, 1, 0)), "has the unit \"ticks\""));
    // What is no time needs no unit of it, nor does a time that is not needed.
    for (const char* title : {"T (engine)", "Time (ticks)"})
        CHECK(from("Sample rate: 2 kHz\n" + std::string(title) + ",Clamp\n" + rows(20, 1, 0)).rate_hz ==
              2000);
    // A clock needs no unit.
    CHECK(from("Time (UTC),Clamp (A)\n10:15:00.0,1\n10:15:00.5,1\n10:15:01.0,1\n10:15:01.5,1\n10:15:02.0,1\n"
               "10:15:02.5,1\n10:15:03.0,1\n10:15:03.5,1\n")
              .rate_hz == 2);
}

TEST_CASE("read: dates and clocks as people and loggers write them -> even time") {
    const auto at = [](const char* before, const char* format, double second, const char* behind) {
        char text[64];
        std::snprintf(text, sizeof text, format, second);
        return before + std::string(text) + behind;
    };
    struct Writing {
        const char* before;
        const char* format;
        const char* behind;
    };
    for (const Writing& w : {Writing{"02.03.2026 10:15:", "%06.3f", ""},
                             {"03/02/2026 10:15:", "%06.3f", ""},
                             {"23/02/2026 10:15:", "%06.3f", ""},
                             {"10:15:", "%06.3f", " AM"},
                             {"12:15:", "%06.3f", " pm"},
                             {"9:15:", "%06.3f", ""},
                             {"15:", "%06.3f", ""},
                             {"10:15:", "%.3f", ""},
                             {"20260302T1015", "%06.3f", "Z"},
                             {"2026-03-02T10:15:", "%06.3f", "+01:00"}}) {
        CAPTURE(w.before);
        std::string text = "Time;Clamp (A)\n";
        for (int i = 0; i < 50; ++i)
            text += at(w.before, w.format, i * 0.001, w.behind) + ";" + std::to_string(i) + ".5\n";
        check_ramp(from(text), 50, 1000);
    }
    std::string colons = "Time;Clamp (A)\n";
    std::string midnight = "Time;Clamp (A)\n";
    for (int i = 0; i < 50; ++i) {
        colons += at("10:15:00:", "%03.0f", i, "") + ";" + std::to_string(i) + ".5\n";
        midnight += (i < 20 ? at("23:59:", "%06.3f", 59.980 + i * 0.001, "")
                            : at("00:00:", "%06.3f", (i - 20) * 0.001, "")) +
                    ";" + std::to_string(i) + ".5\n";
    }
    check_ramp(from(colons), 50, 1000);
    check_ramp(from(midnight), 50, 1000);
}

TEST_CASE(
    "read: dates and clocks that there are not, or with and without a date -> refused with their cell") {
    const auto clocks = [](const std::string& bad) {
        std::string text = "Time;Clamp (A)\n";
        for (int i = 0; i < 20; ++i) text += fmt::format("2026-02-28 10:15:{:02d}+01:00;{}.5\n", i, i);
        return text + bad + ";20.5\n" + "2026-02-28 10:15:30+01:00;21.5\n";
    };
    for (const char* bad : {"2026-02-30 10:15:20", "2026-13-01 10:15:20", "2026-02-28 10:60:20",
                            "2026-02-28 10:15:61", "2026-02-28 10:15:20+soon", "2026-02-28 10:15:20+01:99"}) {
        CAPTURE(std::string(bad));
        CHECK(holds(refusal(clocks(bad)), "capture.csv:22:1: the time in column 1 (Time) holds"));
        CHECK(holds(refusal(clocks(bad)), "which is not a time"));
    }
    CHECK(holds(refusal(clocks("10:15:20")),
                "capture.csv:22:1: the time in column 1 (Time) holds \"10:15:20\", "
                "without a date"));
}

TEST_CASE("read: the clocks go forward, or a zone is written otherwise -> even time") {
    std::string text = "Time;Clamp (A)\n";
    for (int i = 0; i < 50; ++i)
        text += fmt::format("2026-03-29T{}:{:02d};{}.5\n", i < 20 ? "01:59" : "03:00",
                            i < 20 ? 40 + i : i - 20, i);
    for (const auto& [winter, summer] :
         {std::pair{"+01:00", "+02:00"}, {" +0100", " +0200"}, {"+01", "+02"}}) {
        std::string zoned;
        for (std::size_t at = 0, end = 0; at < text.size(); at = end + 1) {
            end = text.find('\n', at);
            std::string line = text.substr(at, end - at);
            if (const auto joint = line.find(';'); at > 0)
                line.insert(joint, line.find("T01") != std::string::npos ? winter : summer);
            zoned += line + "\n";
        }
        CAPTURE(zoned);
        check_ramp(from(zoned), 50, 1);
    }
    // One day a row without its date, for longer than anybody cranks: midnight passed every time.
    std::string days = "Time;Clamp (A)\n";
    for (int i = 0; i < 20; ++i) days += fmt::format("{:02d}:00:{:02d};{}.5\n", i % 2 ? 1 : 23, i, i);
    CHECK(holds(refusal(days), "no recording of an engine being cranked"));
}

TEST_CASE("read: a column of text beside the numbers -> left out and said; levels in words -> 1 and 0") {
    std::string text = "Date,Time (s),Clamp (A),Status\n";
    std::string german = "Zeit;T;Strom\n";
    for (int i = 0; i < 20; ++i) {
        text += "2026-03-02," + std::to_string(i * 0.5) + "," + std::to_string(i) + ".5,OK\n";
        german += std::to_string(i / 2) + "," + (i % 2 ? "5" : "0") + ";20.1 C;" + std::to_string(i) + ",5\n";
    }
    check_ramp(from(text), 20, 2);
    CHECK(has_notice(from(text), "text-column"));
    check_ramp(from(german), 20, 2);
    for (const char* words : {"TRUE FALSE", "on off", "High Low"}) {
        const std::string high = std::string(words).substr(0, std::string(words).find(' '));
        const std::string low = std::string(words).substr(high.size() + 1);
        std::string levels = "Time (s),Clamp (A),Sync\n";
        for (int i = 0; i < 20; ++i)
            levels += std::to_string(i * 0.5) + "," + std::to_string(i) + ".5," + (i % 7 ? low : high) + "\n";
        const Recording r = from(levels);
        REQUIRE(r.channels.size() == 2);
        CHECK(r.channels[1].values[7] == 1);
        CHECK(r.channels[1].values[8] == 0);
    }
    // One text among numbers is no column of text.
    CHECK(holds(refusal(text + "2026-03-02,10,oops,OK\n"),
                "capture.csv:22:3: column 3 (Clamp) holds \"oops\""));
}

TEST_CASE("read: a unit behind the number in every cell -> stripped; another in one -> refused") {
    const auto text = [](const std::string& title, const std::string& unit) {
        return "Time (s)," + title + "\n" + replaced(rows(20, 0.5, 1), '\n', unit + "\n");
    };
    const auto battery = [](const std::string& rows_of_clamp) {
        return replaced(rows_of_clamp, '\n', ",12.5\n").replace(rows_of_clamp.find('\n'), 5, ",B (V)");
    };
    for (const char* title : {"Clamp (A)", "Clamp"}) {
        CAPTURE(std::string(title));
        const Recording r = from(battery(text(title, " A")));
        REQUIRE(r.channels.size() == 2);
        CHECK(r.channels[0].unit == "A");
        CHECK(r.channels[0].values[7] == 7.5F);
    }
    check_ramp(from(text("Clamp (A)", "A")), 20, 2);
    std::string mixed = battery(text("Clamp", " A"));
    mixed.replace(mixed.find("4.5 A"), 5, "4500 mA");
    CHECK(holds(refusal(mixed), "capture.csv:6:2: the cell \"4500 mA\" has a different unit"));
    CHECK(holds(refusal(battery(text("Clamp (A)", " mA"))), "capture.csv:2:2: the cell \"0.5 mA\""));
}

TEST_CASE("read: levels in words among measured values -> refused; above them -> titles") {
    std::string measured = "0,LOW\n" + rows(20, 0.5, 1).substr(8);
    CHECK(holds(refusal("Time (s),Clamp (A)\n" + measured),
                "capture.csv:2:2: column 2 (Clamp) holds \"LOW\", which is not a number"));
    CHECK(holds(refusal("Time (s),Clamp (A)\n" + rows(20, 0.5, 1) + "10.0,off\n"), "capture.csv:22:2"));
    for (const char* titles : {"Low,High", "On,Off", "true,false"}) {
        CAPTURE(std::string(titles));
        std::string text = std::string(titles) + "\n";
        for (int i = 0; i < 20; ++i) text += std::to_string(i) + ".25,12.5\n";
        const Recording r = from(text, ReadOptions{.rate_hz = 500});
        REQUIRE(r.channels.size() == 2);
        CHECK(r.channels[0].name == std::string(titles).substr(0, std::string(titles).find(',')));
        CHECK(r.channels[0].values.size() == 20);
    }
    // Words in every row are levels from the first on.
    std::string levels;
    for (int i = 0; i < 20; ++i) levels += i % 3 ? "High,Low\n" : "Low,Low\n";
    CHECK(from(levels, ReadOptions{.rate_hz = 500}).channels[0].values.size() == 20);
}

TEST_CASE("read: no row of numbers -> the cell that is none, or the kind of file, is named") {
    std::string units = "Time;Clamp\n";
    for (int i = 0; i < 20; ++i) units += std::to_string(i) + " s;" + std::to_string(i) + " A\n";
    CHECK(holds(refusal(units), "capture.csv:2:1: no rows of numbers were found; this cell holds \"0 s\""));
    std::string hex = "Time (s),Clamp\n";
    for (int i = 0; i < 20; ++i) hex += std::to_string(i) + ",0xF" + std::to_string(i) + "\n";
    CHECK(holds(refusal(hex), "no channel holds numbers: column 2 holds text (\"0xF0\")"));
    for (const auto& [text, kind] : {std::pair{"{\"time\": [1, 2]}\n", "JSON"},
                                     {"<?xml version=\"1.0\"?>\n", "XML"},
                                     {"<!DOCTYPE html>\n", "HTML"},
                                     {"%PDF-1.7\n", "PDF"}})
        CHECK(holds(refusal(text), kind));
}

TEST_CASE("read: vertical bars, true minus signs, titles parted otherwise -> read") {
    const std::string plain = rows(20, 0.5, 1);
    check_ramp(from("Time (ms)|Clamp (A)\n" + replaced(plain, ',', "|")), 20, 2000);
    for (const char* titles : {"Time (ms);Clamp (A)\n", "Time (ms)\tClamp (A)\n"}) {
        const Recording r = from(titles + plain);
        check_ramp(r, 20, 2000);
        CHECK(r.channels[0].name == "Clamp");
    }
    const Recording r = from("Time (ms);Clamp (A)\n" + replaced(plain, ',', ";") +
                             "10.0;\xE2\x88\x92"
                             "2.5\n");
    CHECK(r.channels[0].values.back() == -2.5F);
}

TEST_CASE("read: over-range signs and words -> clipped spans that hold the rail") {
    for (const char* word : {"\xE2\x88\x9E", "inf", "OL", "Over", "+OVR", "1e999", "9.9E37", "1.#INF"}) {
        CAPTURE(std::string(word));
        std::string text = "Time (s),Clamp (A)\n";
        for (int i = 0; i < 20; ++i)
            text +=
                std::to_string(i * 0.5) + "," + (i == 10 || i == 11 ? word : std::to_string(i % 13)) + "\n";
        const Recording r = from(text);
        REQUIRE(r.channels[0].clipped.size() == 1);
        CHECK(r.channels[0].clipped[0].first == 10);
        CHECK(r.channels[0].clipped[0].last == 12);
        CHECK(r.channels[0].values[10] == 9);
        CHECK(r.channels[0].gaps.empty());
    }
    std::string low = "Time (s),Clamp (A)\n";
    for (int i = 0; i < 20; ++i) low += std::to_string(i * 0.5) + (i == 10 ? ",-\xE2\x88\x9E\n" : ",5\n");
    low.replace(low.find(",5"), 2, ",3");
    CHECK(from(low).channels[0].values[10] == 3);
}

TEST_CASE("read: empty and NaN cells -> gaps bridged in a straight line") {
    for (const char* word : {"", "NaN", "nan", "n/a", "--", "n.a.", "?", "#DIV/0!", "ERR"}) {
        CAPTURE(std::string(word));
        std::string text = "Time (s),Clamp (A),Other\n";
        for (int i = 0; i < 20; ++i)
            text += std::to_string(i * 0.5) + "," + (i >= 5 && i < 8 ? word : std::to_string(2 * i)) + ",1\n";
        const Recording r = from(text);
        REQUIRE(r.channels[0].gaps.size() == 1);
        CHECK(r.channels[0].gaps[0].first == 5);
        CHECK(r.channels[0].gaps[0].last == 8);
        CHECK(r.channels[0].values[6] == 12);
        CHECK(has_notice(r, "gaps"));
    }
}

TEST_CASE("read: a column without any number -> left out, and it is said") {
    const auto with = [](const char* other) {
        std::string text = "Time (s),Clamp (A),Other\n";
        for (int i = 0; i < 20; ++i)
            text += std::to_string(i * 0.5) + "," + std::to_string(2 * i) + "," + other + "\n";
        return from(text);
    };
    const Recording whole = with("1");
    CHECK(whole.channels.size() == 2);
    CHECK_FALSE(has_notice(whole, "empty-channel"));
    const Recording empty = with("");
    CHECK(empty.channels.size() == 1);
    CHECK(empty.empty_channels == std::vector<std::string>{"Other"});
    CHECK(has_notice(empty, "empty-channel"));
}

TEST_CASE("read: date-time stamps -> even time from 0") {
    std::string text = "Date,Clamp (A)\n";
    char line[64];
    for (int i = 0; i < 50; ++i) {
        std::snprintf(line, sizeof line, "2026-03-02T23:59:59.%03dZ,%d.5\n", 900 + i, i);
        text += line;
    }
    check_ramp(from(text), 50, 1000);
}

TEST_CASE("read: time printed too coarsely -> still even, at the true rate") {
    // 10 kHz printed to a millisecond: ten rows share each stamp.
    const Recording coarse = from("Time (s),A\n" + rows(5000, 0.0001, 3));
    CHECK(coarse.channels[0].values.size() == 5000);
    CHECK(coarse.rate_hz == doctest::Approx(10000).epsilon(0.001));  // stamp / length: 1 ms / 0.5 s
    CHECK_FALSE(has_notice(coarse, "resampled"));
    // 2 kHz printed with five significant digits: from 10 s on two rows share a stamp.
    std::string scientific = "Time (s),A\n";
    char line[64];
    for (int i = 0; i < 30000; ++i) {
        std::snprintf(line, sizeof line, "%.4E,%d\n", i * 0.0005, i % 7);
        scientific += line;
    }
    const Recording late = from(scientific);
    CHECK(late.channels[0].values.size() == 30000);
    CHECK(late.rate_hz == doctest::Approx(2000).epsilon(1e-4));
    CHECK_FALSE(has_notice(late, "resampled"));
    CHECK(late.channels[0].gaps.empty());
}

TEST_CASE("read: time repeated or backwards -> refused with its line") {
    std::string text = "Time (s),A\n" + rows(20, 0.001, 3);
    const std::size_t at = text.find("0.010");
    std::string repeated = text;
    repeated.replace(at, 5, "0.009");
    CHECK(holds(refusal(repeated), "capture.csv:12: the time 0.009 appears twice"));
    std::string backwards = text;
    backwards.replace(at, 5, "0.002");
    CHECK(holds(refusal(backwards), "capture.csv:12: time goes backwards to 0.002"));
}

TEST_CASE("read: rows left out -> a gap, the rest in place") {
    std::string text = "Time (s),A\n" + rows(200, 0.001, 3);
    const std::size_t from_row = text.find("0.100,");
    const std::size_t to_row = text.find("0.105,");
    text.erase(from_row, to_row - from_row);
    const Recording r = from(text);
    check_ramp(r, 200, 1000);
    REQUIRE(r.channels[0].gaps.size() == 1);
    CHECK(r.channels[0].gaps[0].first == 100);
    CHECK(r.channels[0].gaps[0].last == 105);
    CHECK(has_notice(r, "rows-missing"));
}

TEST_CASE("read: uneven sampling of a straight line -> the line on an even base, and said") {
    std::string text = "Time (s),A\n";
    std::mt19937 random(7);
    double t = 0;
    for (int i = 0; i < 500; ++i) {
        t += 0.0005 + 0.001 * static_cast<double>(random() % 1000) / 1000;
        char line[64];
        std::snprintf(line, sizeof line, "%.9f,%.9f\n", t, 3 * t);
        text += line;
    }
    const Recording r = from(text);
    CHECK(has_notice(r, "resampled"));
    for (std::size_t i = 0; i < r.channels[0].values.size(); ++i) {
        const double time_s = r.start_s + static_cast<double>(i) / r.rate_hz;
        CHECK(std::abs(static_cast<double>(r.channels[0].values[i]) - 3 * time_s) < 1e-6);  // float, near 1.5
    }
}

TEST_CASE("read: an edge list -> edges with the file's own times") {
    const Recording r = from(
        "Time[s], crank, cam\n0.0, 0, 0\n1.5, 1, 0\n1.500001, 0, 0\n1.500002, 1, 0\n2.0, 1, 1\n2.25, 0, 1\n"
        "2.5, 1, 1\n3.0, 1, 0\n");
    CHECK(r.rate_hz == 0);
    REQUIRE(r.channels.size() == 2);
    REQUIRE(r.channels[0].edges.size() == 5);
    CHECK(r.channels[0].edges[0].time_s == 1.5);
    CHECK(r.channels[0].edges[0].rising);
    CHECK_FALSE(r.channels[0].edges[1].rising);
    CHECK(r.channels[1].edges.size() == 2);
    CHECK(r.channels[0].values.empty());
    CHECK(r.duration_s == 3.0);
}

TEST_CASE("read: bad input -> refused with place and remedy") {
    const std::string good = "Time (s),Clamp (A)\n" + rows(20, 0.001, 3);
    CHECK(holds(refusal(""), "empty"));
    CHECK(holds(refusal("\n\n  \n"), "blank lines"));
    CHECK(holds(refusal("Time (s),Clamp (A)\n"), "capture.csv:1: a header, but no row of numbers"));
    CHECK(holds(refusal("1.5\n2.5\n3.5\n2.5\n1.5\n2\n3\n4\n5\n"), "capture.csv:1: one column and no time"));
    CHECK(holds(refusal(good + "0.020,1,2\n"), "capture.csv:22: this row has 3 cells, the others 2"));
    CHECK(holds(refusal(good + "0.020\n0.021,1\n"), "capture.csv:22: this row has 1 cell, the others 2"));
    CHECK(holds(refusal("Time (s),A\n0,1\n"), "only 1 row of samples"));
    CHECK(holds(refusal(good + "0.020,oops\n"), "capture.csv:22:2: column 2 (Clamp) holds \"oops\""));
    CHECK(holds(refusal(good + "noon,1\n"), "capture.csv:22:1: the time in column 1 (Time)"));
    CHECK(holds(refusal(good + "NaN,1\n"), "capture.csv:22:1"));
    CHECK(holds(refusal("Time (s),A\n0,1\n1,2\n"), "only 2 rows"));
    CHECK(holds(refusal(std::string("\x01\x02\0\x7F\x45", 5)), "neither text nor"));
    CHECK(holds(refusal("Time (s),A\n" + replaced(rows(20, 0.001, 3), '.', ",")), "commas both separate"));
    std::string all_nan = "Time (s),A\n";
    for (int i = 0; i < 20; ++i) all_nan += std::to_string(i * 0.5) + ",NaN\n";
    CHECK(holds(refusal(all_nan), "no channel holds numbers"));
    CHECK(holds(refusal("Time (s)\n0.1\n0.2\n0.3\n"), "no channel beside it"));
    CHECK(holds(refusal(good + std::string("0.020,1\0\n", 9)), "neither text nor"));
    CHECK(holds(refusal("Time (s),A\n0.0,\"1\n" + std::string(400'000, '7')), "quote"));
}

TEST_CASE("read: a line without end -> refused, not held in memory") {
    struct Endless : std::streambuf {
        char block[4096];
        std::size_t served = 0;
        int_type underflow() override {
            if (served > (std::size_t{1} << 30)) return traits_type::eof();
            for (std::size_t i = 0; i < sizeof block; i += 2) block[i] = '1', block[i + 1] = ',';
            served += sizeof block;
            setg(block, block, block + sizeof block);
            return traits_type::to_int_type(block[0]);
        }
    } endless;
    std::istream stream(&endless);
    CHECK_THROWS_AS((void)read_text(stream, "endless.csv"), Error);
    CHECK(endless.served < (std::size_t{4} << 20));
}

TEST_CASE("read: the last line breaks off -> left out and said") {
    const Recording r = from("Time (s),A,B\n" + replaced(rows(20, 0.001, 3), '\n', ",1\n") + "0.020,3");
    CHECK(r.channels[0].values.size() == 20);
    CHECK(has_notice(r, "last-row-incomplete"));
}

TEST_CASE("read: pieces of any size -> the same recording") {
    std::string text = "Time (s),Clamp (A),Sync\r\n";
    std::minstd_rand random(11);
    for (int i = 0; i < 60000; ++i) {
        char line[96];
        std::snprintf(line, sizeof line, "%.6f,%u.%u,%d\r\n", i * 1e-5, static_cast<unsigned>(random() % 500),
                      static_cast<unsigned>(random() % 10), i % 20000 == 7);
        text += i % 997 == 5 ? replaced(line, '.', "") : std::string(line);
        if (i % 997 == 5) {
            text.erase(text.rfind("\r\n", text.size() - 3) + 2);
            std::snprintf(line, sizeof line, "%.6f,,%d\r\n", i * 1e-5, i % 20000 == 7);
            text += line;
        }
    }
    const ReadOptions options{.rate_hz = {}, .keep_rate_hz = 25'000, .most_values = 12'000};
    std::istringstream whole_stream(text);
    const Recording whole = read_text(whole_stream, "x", options);
    CHECK(has_notice(whole, "reduced"));
    for (const std::size_t piece : {std::size_t{1}, std::size_t{7}, std::size_t{4096}}) {
        CAPTURE(piece);
        std::istringstream stream(text);
        reading::StreamBytes source(stream, "x");
        const Recording r = reading::read_table(source, "x", options, piece);
        REQUIRE(r.channels.size() == whole.channels.size());
        CHECK(r.rate_hz == whole.rate_hz);
        for (std::size_t c = 0; c < r.channels.size(); ++c) {
            CHECK(r.channels[c].values == whole.channels[c].values);
            CHECK(r.channels[c].gaps.size() == whole.channels[c].gaps.size());
        }
    }
}

TEST_CASE("read: random damage to a good file -> read or refused, values finite") {
    const std::string good =
        "Interval,0.001\nTime (s),Clamp (A),Sync\n" + replaced(rows(60, 0.001, 3), '\n', ",0\n");
    std::mt19937 random(3);
    const std::string alphabet = "0123456789.,;\t \"\n\r-+eEnaNif\xE2\x88\x9E:#";
    int read_count = 0;
    for (int trial = 0; trial < 4000; ++trial) {
        std::string text = good;
        for (unsigned change = 0; change <= random() % 6; ++change) {
            const std::size_t at = random() % text.size();
            const char c = alphabet[random() % alphabet.size()];
            if (random() % 3 == 0)
                text.erase(at, 1 + random() % 20);
            else if (random() % 2 == 0)
                text.insert(at, 1 + random() % 3, c);
            else
                text[at] = c;
            if (text.empty()) text.push_back('x');
        }
        try {
            const Recording r = from(text);
            ++read_count;
            REQUIRE_FALSE(r.channels.empty());
            for (const Channel& channel : r.channels)
                for (const float value : channel.values) REQUIRE(std::isfinite(value));
        } catch (const Error& error) {
            REQUIRE_FALSE(error.remedy().empty());
        }
    }
    CHECK(read_count > 100);  // the damage is often harmless
}

TEST_CASE("read: an edge list in volts -> edges; a third level is refused") {
    const std::string rows =
        "0.100117,0,5\n0.130204,3.3,5\n0.151903,0,5\n0.180911,3.3,0\n"
        "0.200333,0,0\n0.240716,3.3,5\n0.262918,0,5\n0.291207,3.3,0\n";
    const Recording r = from("Time (s),Crank (V),Cam (V)\n" + rows);
    REQUIRE(r.rate_hz == 0);
    REQUIRE(r.channels[0].edges.size() == 7);
    CHECK(r.channels[0].edges[0].rising);
    CHECK(r.channels[0].edges[0].time_s == 0.130204);
    REQUIRE(r.channels[1].edges.size() == 3);
    CHECK_FALSE(r.channels[1].edges[0].rising);
    // A third level far below, where the kind of file is decided already.
    std::string list = "Time (s),Crank (V)\n";
    for (int i = 0; i < 30000; ++i)
        list += fmt::format("{:.6f},{}\n", 0.01 * i + 0.001 * (i % 3), i % 2 == 0 ? 0 : 5);
    CHECK(from(list).channels[0].edges.size() == 29999);
    CHECK_THROWS_WITH_AS((void)from(list + "300.1,2.5\n"), doctest::Contains("third level"), Error);
    // Two values at uneven times that do not change in every row are the noise of a channel at rest.
    CHECK(from("Time (s),Clamp (A)\n0.100117,0\n0.130204,0.1\n0.151903,0.1\n0.180911,0\n0.200333,0.1\n"
               "0.240716,0\n0.262918,0\n0.291207,0.1\n")
              .rate_hz > 0);
}

TEST_CASE("read: an edge list whose time names no unit -> said where seconds make it absurdly slow") {
    const auto edges = [](const std::string& title, double step) {
        std::string text = title + ",crank\n";
        for (int i = 0; i < 40; ++i) text += std::to_string(i * step) + (i % 2 == 0 ? ",0\n" : ",1\n");
        return from(text);
    };
    CHECK(has_notice(edges("Time", 3.3), "time-unit-assumed"));  // 60 teeth at 150 rpm, in ms
    CHECK_FALSE(has_notice(edges("Time", 0.0033), "time-unit-assumed"));
    CHECK_FALSE(has_notice(edges("Time", 0.25), "time-unit-assumed"));  // two teeth at 60 rpm
    CHECK_FALSE(has_notice(edges("Time (ms)", 3.3), "time-unit-assumed"));
    CHECK_FALSE(has_notice(edges("Time (s)", 3.3), "time-unit-assumed"));
}

TEST_CASE("read: an edge list with two edges of a channel at one time -> bounce, left out and said") {
    const std::string start = "Time[s], crank, cam\n0.0, 0, 0\n1.5, 1, 0\n1.75, 0, 0\n";
    const Recording r = from(start + "2.0, 1, 0\n2.0, 0, 1\n2.0, 1, 1\n2.25, 0, 1\n2.5, 1, 0\n");
    REQUIRE(r.channels.size() == 2);
    REQUIRE(r.channels[0].edges.size() == 5);  // 1.5, 1.75, 2.0, 2.25, 2.5
    for (std::size_t i = 0; i < 5; ++i) CHECK(r.channels[0].edges[i].rising == (i % 2 == 0));
    CHECK(r.channels[0].edges[2].time_s == 2.0);
    CHECK(r.channels[1].edges.size() == 2);
    CHECK(has_notice(r, "edges-at-once"));
    // Two channels may well change at once.
    CHECK_FALSE(has_notice(from(start + "2.0, 1, 1\n2.25, 0, 1\n2.5, 1, 0\n3.0, 0, 0\n3.5, 1, 0\n"),
                           "edges-at-once"));
}

TEST_CASE("read: an edge list with times too coarse for its edges -> refused, more digits advised") {
    const auto list = [](int decimals) {
        std::string text = "Time (s),crank\n";
        char line[64];
        for (int i = 0; i < 400; ++i) {
            std::snprintf(line, sizeof line, "%.*f,%d\n", decimals, i * 0.0041, i % 2);
            text += line;
        }
        return text;
    };
    CHECK(holds(refusal(list(2)), "capture.csv, channel \"crank\": "));
    CHECK(holds(refusal(list(2)), "share their time with another"));
    CHECK(refusal(list(4)) == "read");
}

TEST_CASE(
    "read: an interval as a title with its number below -> the rate, and the columns keep their titles") {
    const auto counted = [](const char* tail) {
        std::string text;
        for (int i = 0; i < 100; ++i)
            text += std::to_string(i) + ",1." + std::to_string(i % 10) + tail + "\n";
        return text;
    };
    const std::string over = "X,CH1,Start,Increment,\nSequence,Volt,-1.5e-01,5.0e-04\n";
    for (const char* tail : {"", ",", ",,,"}) {
        CAPTURE(std::string(tail));
        const Recording r = from(over + counted(tail));
        CHECK(r.rate_hz == doctest::Approx(2000));
        REQUIRE(r.channels.size() == 1);
        CHECK(r.channels[0].name == "CH1");
        CHECK(r.channels[0].unit == "Volt");
    }
    CHECK(from("Index,Clamp,Interval (ms)\n,A,0.5\n" + counted("")).rate_hz == doctest::Approx(2000));
    // Settings further up, or an interval of something else, are none.
    CHECK(holds(refusal("Device,Range,Interval\nclamp,600,12\n\nX,CH1\nSequence,Volt\n" + counted("")),
                "not a known unit"));
    CHECK(holds(refusal("Index,Clamp,Interval\n,A,12\n" + counted("")), "not known"));
    CHECK(from("Sequence,V\n" + counted(""), {.rate_hz = 1000}).channels[0].name == "V");
    // Without that number a bare X that counts has an unknown unit, and nobody guesses.
    CHECK(holds(refusal("X,CH1\nSequence,Volt\n" + counted("")), "not a known unit of time"));
}
