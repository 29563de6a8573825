// The loss angle in closed form against the first law integrated here, and against published values.
// Source of table and formula: derived from the first law, worked out with scipy's integrator at 1e-12.
#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "pressure/loss_angle.hpp"
#include "support/motored_trace.hpp"

using namespace evenstroke;
using test_support::first_law;

namespace {

constexpr double deg = 180 / pi;
constexpr double pct_per_10_deg = 0.01 / (10 / deg);  ///< 1 % of the charge in 10 degrees, 1/rad

/// COMPUTED (scipy 1.10.1): engine 86 x 86 mm, rod 143.5 mm, ratio 10.5, gamma 1.4.
struct Row {
    double heat_j_per_rad, leak_per_rad, peak_deg, formula_deg, peak_pa;
};
constexpr Row rows[] = {{0, 0, 0, 0, 2'689'459.6},
                        {-10, 0, -0.194991, -0.194990, 2'586'182.9},
                        {-50, 0, -1.158716, -1.158587, 2'176'275.0},
                        {0, -pct_per_10_deg, -0.531925, -0.531771, 2'473'694.0},
                        {-20, -pct_per_10_deg / 2, -0.690112, -0.689966, 2'378'231.7}};

}  // namespace

TEST_CASE(
    "pressure loss: heat and leak of known size -> the tabulated angle, by formula and by integration") {
    for (const Row& row : rows) {
        CAPTURE(row.heat_j_per_rad);
        CAPTURE(row.leak_per_rad);
        const auto peak = first_law({}, row.heat_j_per_rad, row.leak_per_rad, 1.4).peak();
        CHECK(std::abs(peak.angle_rad * deg - row.peak_deg) < 2e-6);  // the table's last digit
        CHECK(std::abs(peak.pa - row.peak_pa) < 0.1);                 // likewise
        const double closed =
            pressure::peak_angle_rad({}, {row.heat_j_per_rad, row.leak_per_rad, 1.4, peak.pa});
        CHECK(std::abs(closed * deg - row.formula_deg) < 2e-6);
        CHECK(std::abs(closed - peak.angle_rad) * deg < 0.001);  // what the formula promises
    }
}

TEST_CASE("pressure loss: heat alone, leak alone, both -> the peak lies before TDC, and losses add") {
    const auto angle = [](double heat, double leak) {
        return pressure::peak_angle_rad({}, {heat, leak, 1.4, 2.4e6});
    };
    CHECK(angle(-20, 0) < 0);
    CHECK(angle(0, -0.03) < 0);
    CHECK(angle(20, 0) > 0);  // walls hotter than the charge
    CHECK(std::abs(angle(-20, -0.03) - angle(-20, 0) - angle(0, -0.03)) < 1e-15);
    CHECK(first_law({}, -20, 0, 1.4).peak().angle_rad < 0);
    CHECK(first_law({}, 0, -0.03, 1.4).peak().angle_rad < 0);
}
