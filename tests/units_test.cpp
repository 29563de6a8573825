#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "evenstroke/units.hpp"

using namespace evenstroke;

namespace {

bool close(double value, double expected, double relative) {
    return std::abs(value - expected) <= relative * std::abs(expected);
}

}  // namespace

TEST_CASE("units: pressure factors -> NIST SP 811 App. B.8, to its seven printed digits") {
    // PRINTED in NIST SP 811 (2008), App. B.8 (references.md F2); here in kPa. Half a unit of the last digit.
    const struct {
        const char* text;
        double kpa;
    } table[] = {{"psi", 6.894757},    {"inHg", 3.386389}, {"mmHg", 0.1333224}, {"atm", 101.325},
                 {"bar", 100},         {"mbar", 0.1},      {"Pa", 0.001},       {"MPa", 1000},
                 {"kgf/cm2", 98.0665}, {"kPa", 1},         {"kg/cm2", 98.0665}, {"N/mm2", 1000}};
    for (const auto& row : table) {
        CAPTURE(std::string(row.text));
        const auto unit = find_unit(row.text);
        REQUIRE(unit);
        CHECK(unit->dimension == Dimension::pressure);
        CHECK(close(unit->factor, row.kpa, 5e-7));
    }
}

TEST_CASE("units: psi -> the exact chain of pound, gravity and inch") {
    // NIST SP 811: 0.45359237 kg, 9.80665 m/s², 0.0254 m, all exact.
    CHECK(close(find_unit("psi")->factor, 0.45359237 * 9.80665 / (0.0254 * 0.0254) / 1000, 1e-15));
}

TEST_CASE("units: words, brackets and both micro signs -> the same unit") {
    CHECK(find_unit("amps")->symbol == "A");
    CHECK(find_unit(" [Volts] ")->symbol == "V");
    CHECK(find_unit("(seconds)")->factor == 1);
    CHECK(find_unit("us")->factor == 1e-6);
    CHECK(find_unit("\xC2\xB5s")->factor == 1e-6);  // U+00B5
    CHECK(find_unit("\xCE\xBCs")->factor == 1e-6);  // U+03BC
    CHECK(find_unit("PSI")->symbol == "psi");
    CHECK(find_unit("kA")->factor == 1000);
    // Every prefix that scopes print, of every unit that they print it of.
    for (const char* unit : {"A", "V", "s"})
        for (const auto& [prefix, factor] : {std::pair{"m", 1e-3}, std::pair{"u", 1e-6},
                                             std::pair{"\xC2\xB5", 1e-6}, std::pair{"\xCE\xBC", 1e-6}}) {
            const std::string text = std::string(prefix) + unit;
            CAPTURE(text);
            REQUIRE(find_unit(text));
            CHECK(find_unit(text)->factor == factor);
        }
}

TEST_CASE("units: a pressure's zero written behind it -> the unit alone") {
    for (const char* text : {"barg", "bara", "bar(g)", "bar abs", "Bar (gauge)"}) {
        CAPTURE(std::string(text));
        REQUIRE(find_unit(text));
        CHECK(find_unit(text)->symbol == "bar");
    }
    CHECK(find_unit("psig")->symbol == "psi");
    CHECK(find_unit("PSIA")->symbol == "psi");
    CHECK(find_unit("kPa(abs)")->symbol == "kPa");
    CHECK(find_unit("MPa absolute")->factor == 1000);
    CHECK_FALSE(find_unit("barag"));  // one zero, not two
    CHECK_FALSE(find_unit(std::string(100'000, 'g')));
    CHECK_FALSE(find_unit("mPag"));
    CHECK_FALSE(find_unit("Vg"));   // volts have no such zero
    CHECK_FALSE(find_unit("msa"));  // nor have milliseconds
}

TEST_CASE("units: milli against mega -> case decides") {
    CHECK(find_unit("mV")->factor == 1e-3);
    CHECK_FALSE(find_unit("MV"));
    CHECK(find_unit("MPa")->factor == 1000);
    CHECK_FALSE(find_unit("mPa"));
}

TEST_CASE("units: not a unit -> empty") {
    for (const char* text : {"", "()", "furlong", "Clamp", "12", "g", "abs", "gauge", "(g)"}) {
        CAPTURE(std::string(text));
        CHECK_FALSE(find_unit(text));
    }
}
