// The table of all tests that the program suggests.
#include <doctest/doctest.h>

#include <algorithm>
#include <map>
#include <set>
#include <string>

#include "evenstroke/followup.hpp"
#include "findings/test_cautions.hpp"
#include "findings/test_table.hpp"

using namespace evenstroke;
using findings::suggested;

TEST_CASE("findings: the table of tests -> each key once, a sentence, cautions that exist") {
    std::set<std::string> keys;
    const std::size_t always = findings::test_cautions({}).size();
    for (const auto& row : findings::test_table()) {
        CHECK_MESSAGE(keys.insert(row.key).second, std::string(row.key));
        const auto test = suggested(row.key, {.who = "cylinder {3}"});
        CHECK(std::string(row.key).starts_with(test.code));
        CHECK_MESSAGE(test.text.ends_with("."), test.text);
        CHECK_MESSAGE(test.text.find("{who}") == std::string::npos, test.text);
        CHECK_MESSAGE((test.text.front() >= 'A' && test.text.front() <= 'Z'), test.text);
        for (const char* caution : row.cautions)
            CHECK_MESSAGE(findings::test_cautions({caution}).size() == always + 1, std::string(caution));
    }
    CHECK(keys.size() > 30);
}

TEST_CASE("findings: a test's code -> a text of its own, and the same cautions whatever the text") {
    std::map<std::string, std::vector<const char*>> of_code;
    for (const auto& row : findings::test_table()) {
        const std::string code = suggested(row.key).code;
        CHECK(findings::test_row(code).key == code);
        const auto [first, is_new] = of_code.try_emplace(code, row.cautions);
        CHECK_MESSAGE((is_new || std::ranges::equal(first->second, row.cautions,
                                                    [](std::string a, std::string b) { return a == b; })),
                      std::string(row.key));
    }
}

TEST_CASE("findings: one test under several codes -> one text") {
    const findings::TestSubject three{.who = "cylinder 3"};
    CHECK(suggested("wet-test", three).text == suggested("gauge-wet", three).text);
    CHECK(suggested("wet-test", three).text.find("oil in cylinder 3 and in a sound one") !=
          std::string::npos);
    CHECK(suggested("repeat-same").text == suggested("repeat-recording").text);
    CHECK(
        suggested("gauge-all")
            .text.starts_with(suggested("gauge-dry").text.substr(0, suggested("gauge-dry").text.size() - 1)));
    CHECK(suggested("leak-down-all").text == suggested("leak-down", {.who = "each cylinder in turn"}).text);
    REQUIRE_FALSE(separating_tests().empty());
    for (const auto& test : separating_tests()) CHECK(test.says == suggested(test.code).text);
}
