// Drive figures and peak pressures: by hand, and against the truth of simulated engines.
#include <doctest/doctest.h>

#include <cmath>

#include "evenstroke/analyse.hpp"
#include "evenstroke/quantities.hpp"
#include "evenstroke/synth.hpp"
#include "support/once.hpp"

using namespace evenstroke;

namespace {

CylinderContribution known(double value, double low, double high) {
    CylinderContribution c;
    c.contribution_pct = value;
    c.low_pct = low;
    c.high_pct = high;
    return c;
}

struct Scene {
    EngineLayout layout = make_layout({}, {1, 2}, {}, {});
    CrankAngle angle;
    Contribution contribution;
    Scene() {
        angle.kind = ReferenceKind::sync;
        angle.time_s = {0, 1};
        angle.angle_deg = {0, 720};
        contribution.cylinders = {known(100, 97, 100), known(80, 76, 84)};
    }
};

SynthOptions four(std::vector<SynthFault> faults) {
    SynthOptions o;
    o.engine.layout = make_layout({}, {1, 3, 4, 2}, {}, {});
    o.engine.faults = std::move(faults);
    return o;
}

Analysis analysed(const SynthOptions& o) {
    AnalyseOptions options;
    options.layout = o.engine.layout;
    options.reference.sync = "Sync";
    return analyse(synthesise(o, 3).recording, options);
}

}  // namespace

TEST_CASE("quantities: one measured pressure -> every cylinder's, both intervals combined") {
    const Scene s;
    const auto peaks = peaks_kpa({.kpa = 1200, .cylinder = 1}, s.angle, s.contribution, s.layout);
    REQUIRE(peaks.size() == 2);
    CHECK(peaks[0]->value == 1200);
    CHECK(peaks[0]->low == peaks[0]->high);
    CHECK(std::abs(peaks[1]->value - 960) < 1e-9);
    // Closed form: relative errors add in squares, as logarithms.
    CHECK(std::abs(peaks[1]->low - 960 * 76 / 80.0) < 1e-9);
    CHECK(std::abs(peaks[1]->high - 960 * std::exp(std::hypot(std::log(84 / 80.0), std::log(100 / 97.0)))) <
          1e-9);
    const auto other = peaks_kpa({.kpa = 960, .cylinder = 2}, s.angle, s.contribution, s.layout);
    CHECK(std::abs(other[0]->value - 1200) < 1e-9);
    CHECK(other[0]->low < 1200 * 80 / 83.9);
    CHECK(other[0]->high > 1200 * 80 / 76.1);
}

TEST_CASE("quantities: a cylinder that is not named -> refused") {
    Scene s;
    CHECK_THROWS_AS((void)peaks_kpa({.kpa = 1200, .cylinder = 5}, s.angle, s.contribution, s.layout), Error);
    s.angle.kind = ReferenceKind::none;
    CHECK_THROWS_AS((void)peaks_kpa({.kpa = 1200, .cylinder = 1}, s.angle, s.contribution, s.layout), Error);
}

TEST_CASE("quantities: nothing known of a cylinder -> no pressure") {
    Scene s;
    s.contribution.cylinders[1] = {};
    const auto peaks = peaks_kpa({.kpa = 1200, .cylinder = 1}, s.angle, s.contribution, s.layout);
    CHECK(!peaks[1]);
}

TEST_CASE("quantities: the measured one is the one that is not known -> no pressure, and it says why") {
    Scene s;
    s.contribution.cylinders[0] = {};
    const ReferencePeak first{.kpa = 1200, .cylinder = 1}, second{.kpa = 960, .cylinder = 2};
    const auto peaks = peaks_kpa(first, s.angle, s.contribution, s.layout);
    CHECK(peaks[0]);
    CHECK(!peaks[1]);
    const auto why = nothing_carried(first, peaks, s.contribution);
    REQUIRE(why);
    CHECK(why->code == "peak-not-carried");
    CHECK(why->text.find("cylinder 1") != std::string::npos);
    s = {};
    CHECK_FALSE(
        nothing_carried(second, peaks_kpa(second, s.angle, s.contribution, s.layout), s.contribution));
    s.contribution.inconclusive = "no cranking";  // has its own reason
    CHECK_FALSE(nothing_carried(first, peaks, s.contribution));
}

TEST_CASE("quantities: stall current without a voltage -> no resistance and no torque") {
    Contribution c;
    CHECK(!drive_figures(c, {.channel = "Battery", .resting_v = 12.6, .cranking_v = 10.4}).stall_a);
    c.drive =
        DriveRatios{.stall_a = {600, 500, 700}, .torque_nm_per_v = {5, 4, 6}, .friction_nm_per_v = {3, 2, 4}};
    const DriveFigures without = drive_figures(c, {});
    CHECK(without.stall_a->value == 600);
    CHECK(!without.loop_mohm);
    CHECK(!without.torque_nm);
    CHECK(!without.friction_nm);
    // Ohm's law with the brushes' drop of 0.8 V off: 12.8 V - 0.8 V over 600 A.
    const DriveFigures with = drive_figures(c, {.channel = "Battery", .resting_v = 12.8, .cranking_v = 10.4});
    CHECK(std::abs(with.loop_mohm->value - 20) < 1e-9);
    CHECK(with.loop_mohm->low < 12000 / 700.0);
    CHECK(std::abs(with.torque_nm->value - 60) < 1e-9);
}

TEST_CASE("quantities: a simulated four -> loop resistance and stall current hold what was put in") {
    const SynthOptions o = four({});
    const Analysis a = analysed(o);
    const double loop_mohm = o.starter.resistance_mohm + o.battery.resistance_mohm + o.battery.cable_mohm;
    const double stall_a = (o.battery.open_v - o.starter.brush_v) / loop_mohm * 1000;
    REQUIRE(a.drive.loop_mohm);
    CHECK(a.drive.loop_mohm->low < loop_mohm);
    CHECK(loop_mohm < a.drive.loop_mohm->high);
    CHECK(a.drive.stall_a->low < stall_a);
    CHECK(stall_a < a.drive.stall_a->high);
    REQUIRE(a.contribution.cylinders.size() == 4);
    for (const auto& c : a.contribution.cylinders) CHECK(!c.loss_kind);
}

TEST_CASE("quantities: battery voltage alone -> amperes are not known") {
    SynthOptions o = four({});
    o.chain.current = false;
    const Analysis a = analysed(o);
    CHECK(a.trace.quantity == Quantity::voltage);
    CHECK(!a.drive.stall_a);
    CHECK(!a.drive.torque_nm);
}

TEST_CASE("quantities: a leak and a late intake -> never called by the other's name" * test::once) {
    const Analysis leak =
        analysed(four({{.position = 1, .kind = FaultKind::exhaust_valve, .amount = 12, .neighbour = {}}}));
    CHECK(leak.contribution.cylinders[1].loss_kind != LossKind::charge);
    const Analysis charge =
        analysed(four({{.position = 1, .kind = FaultKind::charge, .amount = 35, .neighbour = {}}}));
    CHECK(charge.contribution.cylinders[1].loss_kind != LossKind::leak);
    // At least one of the two is told, or the words say nothing at all.
    CHECK((leak.contribution.cylinders[1].loss_kind || charge.contribution.cylinders[1].loss_kind));
}
