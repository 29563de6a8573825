// The integration of one compression against closed forms: without heat, leak and starter the first law and
// the crank's energy can be integrated by hand.
// Source: first law for an ideal gas whose ratio of specific heats falls in a straight line, g = A + 1 - s T:
//   dT/T = -(g - 1) dV/V  ->  T/(A - s T) goes as V^-A;  du = R dT/(g - 1)  ->  u = -(R/s) ln(A - s T).
#include "pressure/gas_model.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace evenstroke;
using namespace evenstroke::pressure;

namespace {

// As in gas_model.cpp, whose own they are: dry air, and its ratio of specific heats (air tables).
constexpr double gas_constant = 287.05, gamma_slope_per_k = 8e-5, gamma_at_k = 300;

struct Closed {
    double temperature_k = 0, pressure_pa = 0, energy_j = 0;
};

/// The charge of `mass_kg` that had `start_k` in `start_m3`, in `volume_m3` now; its energy is that above an
/// arbitrary zero.
Closed squeezed(double gamma, double mass_kg, double start_k, double start_m3, double now_m3) {
    const double s = gamma_slope_per_k, a = gamma - 1 + s * gamma_at_k;
    const double q = start_k / (a - s * start_k) * std::pow(start_m3 / now_m3, a);
    Closed c;
    c.temperature_k = a * q / (1 + s * q);
    c.pressure_pa = mass_kg * gas_constant * c.temperature_k / now_m3;
    c.energy_j = -mass_kg * gas_constant / s * std::log(a - s * c.temperature_k);
    return c;
}

struct Made {
    Geometry geometry;
    StrokeTable table = stroke_table(geometry, -100 * pi / 180, 110 * pi / 180);
    CylinderState cylinder;
    PulseState pulse;
    GasCurve curve;

    Made() {
        cylinder.leak_m2 = 0;
        cylinder.heat_w_m2k = 0;
        cylinder.compression_ratio = geometry.compression_ratio;
        cylinder.swing.assign(table.splines, 0);
        cylinder.inertia_kg_m2 = 2;   // without a starter less would stop before TDC
        cylinder.drive_share = -1e6;  // a starter that hangs back: the clutch lets go
        cylinder.drive_slope = 0;     // … and by no more the further it does
        cylinder.rotor_lag = 1;
        run(table, cylinder, pulse, curve);
    }
    [[nodiscard]] double volume(std::size_t i) const { return volume_m3(geometry, table.angle_rad(i)); }
    [[nodiscard]] Closed closed(std::size_t i) const {
        const double start_k = curve.pressure_pa[0] * volume(0) / (curve.mass_kg[0] * gas_constant);
        return squeezed(cylinder.gamma, curve.mass_kg[0], start_k, volume(0), volume(i));
    }
};

}  // namespace

TEST_CASE("pressure gas: no heat, no leak -> the isentrope of a gas whose specific heats change") {
    const Made made;
    for (std::size_t i = 0; i <= made.table.steps(); ++i) {
        CAPTURE(made.table.angle_rad(i) * 180 / pi);
        // A hundredth of the model's own error, 0.1 % (docs/pressure.md, "Weights").
        CHECK(std::abs(made.curve.pressure_pa[i] / made.closed(i).pressure_pa - 1) < 1e-5);
        CHECK(made.curve.mass_kg[i] == doctest::Approx(made.curve.mass_kg[0]).epsilon(1e-12));
    }
}

TEST_CASE("pressure gas: no starter -> the crank's energy is what gas and friction leave it") {
    const Made made;
    const double w0 = made.curve.speed_rad_s[0];
    double slowest = w0;
    for (std::size_t i = 0; i <= made.table.steps(); ++i) {
        CAPTURE(made.table.angle_rad(i) * 180 / pi);
        const double gas_j = made.closed(0).energy_j - made.closed(i).energy_j -
                             made.cylinder.ambient_pa * (made.volume(i) - made.volume(0));
        const double friction_j =
            made.cylinder.friction_nm * (made.table.angle_rad(i) - made.table.angle_rad(0));
        const double speed_rad_s =
            std::sqrt(w0 * w0 + 2 * (gas_j - friction_j) / made.cylinder.inertia_kg_m2);
        slowest = std::min(slowest, made.curve.speed_rad_s[i]);
        // Half a degree of TDC is one or two hundredths of speed: this is a thousandth of that.
        CHECK(std::abs(made.curve.speed_rad_s[i] / speed_rad_s - 1) < 1e-5);
    }
    CHECK(slowest < 0.9 * w0);  // or the energy was not put to the test
}

TEST_CASE("pressure gas: each spline moved, run again from where it begins -> as from the start") {
    Made made;
    made.cylinder.leak_m2 = 1e-6;
    made.cylinder.heat_w_m2k = 100;
    made.cylinder.drive_share = 1.4;
    made.cylinder.drive_slope = 2.3;
    made.cylinder.rotor_lag = 0.1;
    run(made.table, made.cylinder, made.pulse, made.curve);
    std::size_t latest = 0;
    for (std::size_t j = 0; j < made.table.splines; ++j) {
        CAPTURE(j);
        CylinderState moved = made.cylinder;
        moved.swing[j] = 0.05;
        GasCurve whole, part;
        run(made.table, moved, made.pulse, whole);
        rerun(made.table, moved, made.pulse, made.curve, made.table.spline_starts[j], part);
        REQUIRE(part.time_s.size() == whole.time_s.size());
        for (std::size_t i = 0; i < whole.time_s.size(); ++i) {
            CAPTURE(i);
            CHECK(part.pressure_pa[i] == doctest::Approx(whole.pressure_pa[i]).epsilon(1e-11));
            CHECK(part.speed_rad_s[i] == doctest::Approx(whole.speed_rad_s[i]).epsilon(1e-11));
            CHECK(std::abs(part.time_s[i] - whole.time_s[i]) < 1e-12);
        }
        CHECK(std::abs(whole.speed_rad_s.back() / made.curve.speed_rad_s.back() - 1) > 1e-7);
        latest = std::max(latest, made.table.spline_starts[j]);
    }
    CHECK(latest > made.table.steps() / 2);  // or nothing was taken over
}

TEST_CASE("pressure gas: a crank that stops while all the charge leaks out -> still a curve of numbers") {
    // A poor fit on the way, to a small single cylinder whose compression ratio was free: with no mass left
    // there was no temperature, and times that are no numbers were looked up in the recording.
    const Geometry small{.bore_m = 0.068, .stroke_m = 0.045, .rod_m = 0.0742, .compression_ratio = 50};
    const StrokeTable table = stroke_table(small, -100 * pi / 180, 110 * pi / 180);
    CylinderState cylinder{.leak_m2 = 0.5e-6, .compression_ratio = 50, .inertia_kg_m2 = 0.01};
    cylinder.swing.assign(table.splines, 0);
    GasCurve curve;
    for (const double leak_m2 : {0.5e-6, 2e-6, 20e-6, 200e-6}) {
        CAPTURE(leak_m2);
        cylinder.leak_m2 = leak_m2;
        run(table, cylinder, {.speed_rad_s = 2, .mean_speed_rad_s = 4, .start_pa = 117e3}, curve);
        for (std::size_t i = 0; i <= table.steps(); ++i) {
            CHECK(std::isfinite(curve.time_s[i]));
            CHECK(std::isfinite(curve.pressure_pa[i]));
        }
    }
}
