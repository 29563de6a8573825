#include <doctest/doctest.h>

#include <cmath>

#include "evenstroke/engine.hpp"
#include "evenstroke/error.hpp"

using namespace evenstroke;

TEST_CASE("engine: volumes of an 86 x 86 mm cylinder -> the table's values") {
    // references.md B1.9 (COMPUTED): B=S=86 mm, l=143.5 mm, CR 10.5, cm³.
    const Geometry geometry{.bore_m = 0.086, .stroke_m = 0.086, .rod_m = 0.1435, .compression_ratio = 10.5};
    const double expected_cm3[][2] = {{0, 52.58497},    {30, 95.457879},   {60, 206.030883},
                                      {90, 340.666896}, {120, 455.809490}, {150, 528.087117},
                                      {180, 552.142184}};
    for (const auto& row : expected_cm3) {
        const double angle_deg = row[0], cm3 = row[1];
        CAPTURE(angle_deg);
        // The table prints six decimals of a cm³.
        CHECK(std::abs(volume_m3(geometry, angle_deg * pi / 180) * 1e6 - cm3) < 1e-6);
    }
}

TEST_CASE(
    "engine: intervals alike, or a degree apart by their writing -> fires evenly; an odd-fire six does not") {
    for (int cylinders = 1; cylinders <= max_cylinders; ++cylinders)
        CHECK(make_layout(cylinders, {}, {}, {}).fires_evenly());
    CHECK(make_layout({}, {}, {103, 103, 103, 103, 103, 103, 102}, {}).fires_evenly());
    CHECK_FALSE(make_layout({}, {}, {150, 90, 150, 90, 150, 90}, {}).fires_evenly());
    CHECK_FALSE(make_layout({}, {}, {178, 182, 180, 180}, {}).fires_evenly());
}

TEST_CASE("engine: intervals that come again -> after how many positions") {
    const auto after = [](const std::vector<double>& intervals) {
        return make_layout({}, {}, intervals, {}).repeats_after();
    };
    CHECK(EngineLayout{}.repeats_after() == 0);
    CHECK(after({720}) == 1);
    CHECK(after({240, 240, 240}) == 1);
    CHECK(after({270, 450}) == 2);
    CHECK(after({150, 90, 150, 90, 150, 90}) == 2);
    CHECK(after({180, 270, 180, 90}) == 4);
    CHECK(after({90, 270, 90, 270}) == 2);
}

TEST_CASE("engine: order repeats a cylinder -> refused with its number") {
    CHECK_THROWS_AS((void)make_layout({}, {1, 3, 3, 2}, {}, {}), Error);
}
