// Cases: entries are only added; what is no case is refused.
#include <doctest/doctest.h>

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "evenstroke/case_file.hpp"

using namespace evenstroke;
using Json = nlohmann::ordered_json;

namespace {

const std::vector<std::string> one{R"({"command": "crank", "value": 0.1})"};
const std::vector<std::string> two{R"({"command": "followup"})", R"({"command": "compare"})"};

}  // namespace

TEST_CASE("case: nothing there -> a case with these entries, in order") {
    const auto made = Json::parse(add_to_case("", "c.json", two, "2026-01-01T00:00:00Z"));
    CHECK(made["evenstroke_case"] == 1);
    REQUIRE(made["entries"].size() == 2);
    CHECK(made["entries"][1]["document"]["command"] == "compare");
    CHECK(made["entries"][0]["saved"] == "2026-01-01T00:00:00Z");
}

TEST_CASE("case: added to many times -> every earlier entry is still there, and unknown fields too") {
    std::string text = R"({"note": "mine", "evenstroke_case": 1, "entries": [
        {"saved": "then", "document": {"a": 12345678901234567, "b": 0.30000000000000004}, "mark": true}]})";
    const auto first = Json::parse(text)["entries"][0];
    for (int i = 0; i < 20; ++i) text = add_to_case(text, "c.json", one, "now " + std::to_string(i));
    const auto whole = Json::parse(text);
    CHECK(whole["note"] == "mine");
    REQUIRE(whole["entries"].size() == 21);
    CHECK(whole["entries"][0] == first);
    for (std::size_t i = 0; i < 20; ++i)
        CHECK(whole["entries"][i + 1]["saved"] == "now " + std::to_string(i));
}

TEST_CASE("case: nothing to add -> unchanged but for its layout") {
    const auto text = add_to_case("", "c.json", one, "now");
    CHECK(add_to_case(text, "c.json", {}, "later") == text);
}

TEST_CASE("case: damaged, foreign or of another version -> refused, with place and remedy") {
    const std::string whole = add_to_case("", "c.json", two, "now");
    std::vector<std::string> bad{"{}",
                                 "[]",
                                 "7",
                                 "not JSON",
                                 R"({"evenstroke_case": 1})",
                                 R"({"evenstroke_case": 2, "entries": []})",
                                 R"({"evenstroke_case": 1, "entries": {}})",
                                 R"({"evenstroke_case": 1, "entries": [7]})",
                                 R"({"evenstroke_case": 1, "entries": [{"saved": "x"}]})",
                                 R"({"command": "crank", "schema": 1})",
                                 R"({"evenstroke_case": 1, "entries": [], "size": 1e999})"};
    constexpr std::size_t deep = 200'000;  // levels: more than any stack holds
    bad.push_back(R"({"evenstroke_case": 1, "entries": [], "note": )" + std::string(deep, '[') +
                  std::string(deep, ']') + "}");
    for (std::size_t cut = 1; cut + 2 < whole.size(); cut += 7) bad.push_back(whole.substr(0, cut));
    for (const auto& text : bad) {
        CAPTURE(text);
        try {
            (void)add_to_case(text, "c.json", one, "now");
            FAIL("taken for a case");
        } catch (const Error& error) {
            CHECK(error.code() == ErrorCode::malformed);
            CHECK(error.place().starts_with("c.json"));
            CHECK(!error.remedy().empty());
        }
    }
}
