#include <doctest/doctest.h>

#include <limits>

#include "values/words.hpp"

using namespace evenstroke;

TEST_CASE("values: numbers for sentences -> significant digits, no exponent") {
    CHECK(plain(2030.4, 3) == "2030");
    CHECK(plain(0.13627, 3) == "0.136");
    CHECK(plain(-5.1271, 4) == "-5.127");
    CHECK(plain(0.5, 3) == "0.5");
    CHECK(plain(10000, 4) == "10000");
    CHECK(plain(0, 3) == "0");
    CHECK(plain(0.000012, 3) == "0.000012");
    CHECK(plain(100, 3) == "100");
    CHECK(plain(1e12, 3) == "1e+12");
    CHECK(plain(1e-9, 3) == "1e-09");
    CHECK(plain(std::numeric_limits<double>::infinity(), 3) == "inf");
}

TEST_CASE("values: counts in sentences -> singular for one only") {
    CHECK(counted(0, "rows") == "0 rows");
    CHECK(counted(1, "rows") == "1 row");
    CHECK(counted(2, "rows") == "2 rows");
}
