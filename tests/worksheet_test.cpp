// Worksheets: what is taken in, in which units, and what is refused with line and remedy. Factors: NIST SP
// 811 (2008), App. B.8 (psi 6.894 757 kPa, inHg 3.386 389 kPa).
#include <doctest/doctest.h>

#include <functional>
#include <string>
#include <vector>

#include "evenstroke/error.hpp"
#include "evenstroke/worksheet.hpp"
#include "support/holds.hpp"

using namespace evenstroke;
using test::holds;

namespace {

const std::string head = "quantity,unit,engine,1,2\n";

Worksheet parsed(const std::string& text) {
    return parse_worksheet(text, "sheet");
}

/// "PLACE | problem | remedy" of the refusal; empty when there is none.
std::string refusal(const std::string& text) {
    try {
        (void)parsed(text);
    } catch (const Error& error) {
        CHECK(error.code() == ErrorCode::malformed);
        CHECK(!error.remedy().empty());
        return error.place() + " | " + error.what() + " | " + error.remedy();
    }
    return {};
}

}  // namespace

TEST_CASE("worksheet: units as written -> kPa inside, the writing kept") {
    const auto s = parsed(head + "dry,psi,,150,10.3 bar\nvacuum_idle,inHg,18,,\noil_idle,psi,1.4 bar,,\n");
    REQUIRE(s.cylinders.size() == 2);
    CHECK(s.cylinders[0].dry_kpa->value == doctest::Approx(150 * 6.894757293168361).epsilon(1e-12));
    CHECK(s.cylinders[0].dry_kpa->written == "150 psi");
    CHECK(s.cylinders[1].dry_kpa->value == doctest::Approx(1030).epsilon(1e-12));
    CHECK(s.cylinders[1].dry_kpa->written == "10.3 bar");
    CHECK(s.engine.vacuum_idle_kpa->value == doctest::Approx(18 * 3.386389).epsilon(1e-6));
    CHECK(s.engine.oil_idle_kpa->value == doctest::Approx(140).epsilon(1e-12));
}

TEST_CASE("worksheet: 150 psi -> 1034 kPa, 105 psi -> 724 kPa as the service pages print") {
    // PRINTED (references.md G): 1035 kPa and 725 kPa, rounded there to 5.
    const auto s = parsed(head + "dry,psi,,150,105\n");
    CHECK(std::abs(s.cylinders[0].dry_kpa->value - 1035) < 2.5);
    CHECK(std::abs(s.cylinders[1].dry_kpa->value - 725) < 2.5);
}

TEST_CASE("worksheet: empty cells -> not measured, never 0") {
    const auto s = parsed(head + "dry,psi,,150,\nleak_down,%,,,\noil_idle,psi,,,\n");
    CHECK(!s.cylinders[1].dry_kpa);
    CHECK(!s.cylinders[0].leak_down_pct);
    CHECK(!s.engine.oil_idle_kpa);
    CHECK(!s.cylinders[0].air_heard);
}

TEST_CASE("worksheet: listened and heard nothing -> another thing than not listened") {
    const auto s = parsed(head + "air_heard,,,none,tailpipe+oil filler\n");
    REQUIRE(s.cylinders[0].air_heard);
    CHECK(s.cylinders[0].air_heard->empty());
    CHECK(*s.cylinders[1].air_heard == std::vector{AirPath::exhaust, AirPath::crankcase});
}

TEST_CASE("worksheet: semicolons, decimal commas, CRLF, quotes, remarks, a byte order mark -> the same") {
    const auto plain = parsed(head + "dry,bar,,10.3,9.8\n");
    for (const std::string& text :
         {std::string("quantity;unit;engine;1;2\ndry;bar;;10,3;9,8\n"),
          std::string("\xEF\xBB\xBFquantity,unit,engine,1,2\r\n\r\ndry,bar,,\"10,3\",9.8\r\n"),
          std::string("# a remark\n\"# one, more\",,,,\nquantity,unit,engine,1,2\ndry,bar,,10.3,9.8"),
          std::string("quantity\tunit\tengine\t1\t2\ndry\tbar\t\t10.3\t9.8\n"),
          std::string(R"({"worksheet": 1, "cylinders": [{"cylinder": 2, "dry": "9.8 bar"},
                         {"cylinder": 1, "dry": "10.3 bar"}]})")}) {
        const auto s = parsed(text);
        REQUIRE(s.cylinders.size() == 2);
        for (std::size_t i = 0; i < 2; ++i) {
            CHECK(s.cylinders[i].cylinder == plain.cylinders[i].cylinder);
            CHECK(s.cylinders[i].dry_kpa->value ==
                  doctest::Approx(plain.cylinders[i].dry_kpa->value).epsilon(1e-12));
        }
    }
}

TEST_CASE("worksheet: the template in both forms -> reads back as nothing measured") {
    const std::vector<int> cylinders{1, 2, 3, 4, 5, 6};
    for (const auto form : {WorksheetForm::csv, WorksheetForm::json}) {
        const auto s = parsed(worksheet_template(form, cylinders));
        REQUIRE(s.cylinders.size() == 6);
        for (const auto& c : s.cylinders) {
            CHECK(!c.dry_kpa);
            CHECK(!c.air_heard);
        }
        CHECK(!s.engine.fuel);
        CHECK(!s.engine.oil_idle_kpa);
    }
}

TEST_CASE("worksheet: rows of the block -> as written") {
    CHECK(parsed(head + "rows,,1-3-5/2-4-6,,\n").engine.rows ==
          std::vector<std::vector<int>>{{1, 3, 5}, {2, 4, 6}});
}

TEST_CASE("worksheet: broken tables -> refused with the line") {
    const std::vector<std::pair<std::string, std::string>> broken{
        {"", "sheet | the worksheet is empty"},
        {" \n\t\n", "sheet | the worksheet is empty"},
        {"# remarks\n", "holds only remarks"},
        {"dry,psi,,150,150\n", "sheet:1 | \"dry\" is not a worksheet column"},
        {"quantity,unit,engine,1,1\n", "sheet:1 | the column \"1\" appears twice"},
        {"unit,engine,1\n", "sheet:1 | no column is called quantity"},
        {"quantity,unit,engine,0\n", "sheet:1 | \"0\" is not a worksheet column"},
        {"quantity,unit,engine,17\n", "sheet:1 | \"17\" is not a worksheet column"},
        {head + "dry,psi,,150\n", "sheet:2 | 4 cells under 5 columns"},
        {head + "dray,psi,,150,150\n", "sheet:2 | \"dray\" is not a worksheet quantity"},
        {head + "\ndry,psi,,150,150\ndry,psi,,150,150\n", "sheet:4 | \"dry\" appears twice"},
        {head + "dry,,,150,150\n", "sheet:2 | dry, cylinder 1: \"150\" has no unit"},
        {head + "dry,psi,,150,abc\n", "sheet:2 | dry, cylinder 2: \"abc\" is not a number"},
        {head + "dry,V,,150,150\n", "\"V\" is not a unit for this"},
        {head + "dry,psi,,150 volts,\n", "\"volts\" is not a unit for this"},
        {head + "dry,psi,,-5,\n", "is not possible"},
        {head + "leak_down,%,,120,\n", "is not possible"},
        {head + "dry,kPa,,\"1,034\",\n", "may mean thousands or decimals"},
        {head + "dry,psi,,nan,\n", "\"nan\" is not a number"},
        {head + "dry,psi,,inf,\n", "\"inf\" is not a number"},
        {head + "dry,psi,150,,\n", "measured once per cylinder"},
        {head + "oil_idle,psi,,20,\n", "measured once per engine"},
        {head + "air_heard,,,somewhere,\n", "\"somewhere\" is not a word"},
        {head + "fuel,,petrol,,\n", "write one of: spark, diesel"},
        {head + "rows,,1-1,,\n", "does not give rows"},
        {std::string("quantity\0", 9), "this is not text"}};
    for (const auto& row : broken) CHECK_MESSAGE(holds(refusal(row.first), row.second), refusal(row.first));
}

TEST_CASE("worksheet: broken JSON -> refused with the line or the entry") {
    const std::vector<std::pair<std::string, std::string>> broken{
        {"{\"worksheet\": 1,\n\"engine\": }", "sheet:2 | this is not valid JSON"},
        {R"({"worksheet": 1, "note": 1e999})", "sheet | a number in this file is larger than any"},
        {"{}", "this JSON is not a worksheet"},
        {R"({"worksheet": 2})", "this JSON is not a worksheet"},
        {R"({"worksheet": 1, "engines": {}})", "\"engines\" does not belong in a worksheet"},
        {R"({"worksheet": 1, "engine": {"dry": "1 bar"}})", "sheet, engine | \"dry\" is not a quantity here"},
        {R"({"worksheet": 1, "engine": {"oil_idle": 20}})", "sheet, engine, oil_idle | a number without"},
        {R"({"worksheet": 1, "engine": {"fuel": {}}})", "neither text nor null"},
        {R"({"worksheet": 1, "cylinders": [{"dry": "1 bar"}]})", "names no cylinder"},
        {R"({"worksheet": 1, "cylinders": [7]})", "names no cylinder"},
        {R"({"worksheet": 1, "cylinders": [{"cylinder": 99}]})", "there is no cylinder 99"},
        {R"({"worksheet": 1, "cylinders": [{"cylinder": 1}, {"cylinder": 1}]})", "cylinder 1 appears twice"},
        {R"({"worksheet": 1, "cylinders": [{"cylinder": 1, "dry": "1 bar", "dry": "9 bar"}]})",
         "\"dry\" appears twice"},
        {R"({"worksheet": 1, "cylinders": [{"cylinder": 3, "dry": "x"}]})", "sheet, cylinder 3, dry |"}};
    for (const auto& row : broken) CHECK_MESSAGE(holds(refusal(row.first), row.second), refusal(row.first));
}

TEST_CASE("worksheet: a battery higher while cranking than at rest -> refused with both readings") {
    CHECK(holds(refusal(head + "battery_cranking,V,14,,\nbattery_resting,V,9,,\n"),
                "battery_cranking (14 V) lies above battery_resting (9 V)"));
    CHECK(refusal(head + "battery_cranking,V,9,,\nbattery_resting,V,12.6,,\n").empty());
}
