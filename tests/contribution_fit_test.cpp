// The fit on cycles that its own model made: what it must find again, and what must not depend on the way.
#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <span>

#include "contribution/cycle_average.hpp"
#include "contribution/dual_mass.hpp"
#include "contribution/fit_search.hpp"
#include "contribution/interval.hpp"
#include "contribution/shut_exhaust.hpp"

using namespace evenstroke;
using namespace evenstroke::contribution;

namespace {

/// Firing TDC of position 0 so long after the start of the cycle that its compression lies across the start.
constexpr double across_deg = 30;

EngineLayout four() {
    return make_layout(4, {}, {}, {});
}

/// A leaking third cylinder, a heavy crank; with a dual-mass flywheel, 14 Hz.
Eigen::VectorXd unlike_the_priors() {
    Eigen::VectorXd z =
        Eigen::VectorXd::Zero(shared_unknowns + unknowns_per_cylinder * static_cast<Eigen::Index>(4));
    z[at_time_constant] = 0.7;
    z[at_leak] = -0.5;
    z[at_spring] = 0.5;
    z[shared_unknowns + 2 * unknowns_per_cylinder + own_leak] = 8;
    return z;
}

struct Made {
    EngineModel model;
    std::vector<GasTable> tables;
    CrankState state;  ///< periodic
    ModelCycle cycle;
    FitData data;
};

Made made(bool dual_mass = false) {
    FitData nominal;
    nominal.period_s = 0.6;
    nominal.inrush = 620;
    nominal.seen.resize(fold_places);
    for (Eigen::Index k = 0; k < fold_places; ++k)
        nominal.seen[k] = 180 + 60 * std::sin(8 * pi * static_cast<double>(k) / fold_places);
    Made out;
    out.model =
        UnknownsMap(nominal, four(), {.offset_deg = across_deg, .exhaust_shut = {}, .dual_mass = dual_mass})
            .model(unlike_the_priors());
    for (const CylinderGas& gas : out.model.cylinders) out.tables.push_back(gas_table(gas));
    out.state = rest_state(out.model);
    for (int k = 0; k < 60; ++k) run_cycle(out.model, out.tables, out.state, out.cycle);
    const ModelCycle& cycle = out.cycle;
    out.data = nominal;
    out.data.period_s = cycle.time_s.back();
    std::size_t node = 0;
    for (Eigen::Index k = 0; k < fold_places; ++k) {
        const double time_s = cycle.time_s.back() * static_cast<double>(k) / fold_places;
        while (cycle.time_s[node + 1] <= time_s) ++node;
        const double part = (time_s - cycle.time_s[node]) / (cycle.time_s[node + 1] - cycle.time_s[node]);
        out.data.seen[k] = cycle.load[node] * (1 - part) + cycle.load[node + 1] * part;
    }
    return out;
}

/// Every unknown as most engines have it, TDC where made() puts it.
FitPoint usual_four(const FitData& data) {
    FitPoint point;
    point.unknowns = Eigen::VectorXd::Zero(UnknownsMap(data, four()).size());
    point.supposed.offset_deg = across_deg;
    return point;
}

/// Of a fit that leaves nothing open, from a single cycle; the last cylinder has this share of the usual
/// charge.
Contributions contributions_of_peaks(const std::vector<double>& peaks, double last_charge = 1) {
    const auto cylinders = static_cast<Eigen::Index>(peaks.size());
    FitResult fit;
    fit.peak = Eigen::Map<const Eigen::ArrayXd>(peaks.data(), cylinders);
    fit.peak_slope = Eigen::MatrixXd::Zero(cylinders, 1);
    fit.covariance = Eigen::MatrixXd::Identity(1, 1);
    fit.gain = Eigen::MatrixXd::Zero(cylinders, 1);
    fit.node_share = Eigen::ArrayXd::Zero(1);
    fit.model.cylinders.resize(peaks.size());
    fit.model.cylinders.back().charge_ratio *= last_charge;
    fit.swing = 1;
    CycleAverage average;
    average.mean = Eigen::ArrayXd::Ones(fold_places);
    average.cycles = Eigen::ArrayXXd::Ones(1, fold_places);
    return contributions_of(fit, average, true);
}

}  // namespace

TEST_CASE("folded cycle: a share that is no number -> no number, and nothing is looked up") {
    const Eigen::ArrayXd cycle = Eigen::ArrayXd::LinSpaced(fold_places, 0, 1);
    CHECK(std::isnan(at_share(cycle, std::numeric_limits<double>::quiet_NaN())));
    CHECK(std::isnan(at_share(cycle, std::numeric_limits<double>::infinity())));
    CHECK(at_share(cycle, 1.0) == 0);
}

TEST_CASE("fit: a cycle that the model made -> the leaking cylinder's peak, and the others alike") {
    const Made engine = made();
    const FitResult fit = fit_best(engine.data, four(), {across_deg});
    const auto& peak = engine.cycle.peak_ratio;
    REQUIRE(peak[2] < 0.75 * peak[0]);
    for (Eigen::Index c = 0; c < 4; ++c) {
        CAPTURE(c);
        // What the priors pull is within a point, the error that the estimate grants a sound engine (two
        // standard deviations of half a point).
        CHECK(std::abs(fit.peak[c] / fit.peak[0] - peak[static_cast<std::size_t>(c)] / peak[0]) < 0.01);
    }
}

TEST_CASE(
    "fit: a cycle that a dual-mass flywheel made -> taken, judged as one piece, limits that hold both") {
    const Made engine = made(true);
    const FitPoint start = usual_four(engine.data);
    const FoundFit whole = fit_from(engine.data, four(), {}, start);
    const FitResult fit = or_with_dual_mass(engine.data, four(), {}, whole);
    REQUIRE(has_dual_mass(fit.model));
    REQUIRE(fit.least_ratio.size() == 4);
    const auto& peak = engine.cycle.peak_ratio;
    CHECK(std::abs(peak_ratios(fit)[2] - peak[2] / peak[0]) < 0.02);
    // The best fit of one piece, from here or from where the springs led, is what doubts and choices see.
    FitPoint springs_off = whole.point;
    springs_off.unknowns = fit.unknowns;
    springs_off.unknowns[at_spring] = springs_off.unknowns[at_sprung_share] = 0;
    springs_off.from = {};
    const FitResult there = fit_from(engine.data, four(), {}, springs_off).fit;
    const FitResult& best = there.cost < whole.fit.cost ? there : whole.fit;
    CHECK(fit.cost == doctest::Approx(best.cost));
    CHECK(fit.missed_rms >= best.missed_rms);
    for (const FitResult* held : {&fit, &best, &whole.fit}) {
        CHECK((fit.least_ratio <= peak_ratios(*held)).all());
        CHECK((fit.most_ratio >= peak_ratios(*held)).all());
    }
    // Without springs in the trace there is nothing to take.
    const Made one_piece = made();
    const FoundFit sound = fit_from(one_piece.data, four(), {}, start);
    CHECK_FALSE(has_dual_mass(or_with_dual_mass(one_piece.data, four(), {}, sound).model));
}

TEST_CASE(
    "fit: a search that stopped too early, a shut valve tried from there -> the valve is not believed") {
    const Made engine = made();
    const FitPoint start = usual_four(engine.data);
    const FitPoint early = improve(engine.data, four(), {}, start, 4);
    const FoundFit poor{describe(engine.data, four(), {}, early), early};
    REQUIRE(peak_ratios(poor.fit).minCoeff() < 0.9);  // something to explain
    const FoundFit found =
        or_with_shut_exhaust(engine.data, four(), {}, std::span<const FitPoint>(&early, 1), poor);
    CHECK_FALSE(found.point.supposed.exhaust_shut);
    CHECK(found.fit.cost < poor.fit.cost - 12);  // what was tried from elsewhere is what counts
}

TEST_CASE("fit: gone on with from where it stood -> the cost that it has from rest") {
    const Made engine = made();
    const FitPoint start = usual_four(engine.data);
    const FitPoint stopped = improve(engine.data, four(), {}, start, 3);
    FitPoint from_rest = stopped;
    from_rest.from = {};
    const double carried = describe(engine.data, four(), {}, stopped).cost;
    const double rested = describe(engine.data, four(), {}, from_rest).cost;
    // Speeds and charges end a cycle within 3e-5 of where they began it; a step that gains less than 3e-4 of
    // the cost ends the fit, and the way to a point must not matter more than that.
    CHECK(std::abs(carried / rested - 1) < 3e-4);
    CHECK(std::abs(carried / stopped.cost - 1) < 3e-4);
}

TEST_CASE(
    "tangent: a cycle that is not periodic yet -> one step of Newton leaves a tenth of the difference") {
    const Made engine = made();
    CrankState state = engine.state;
    state.motion.crank_rad_s *= 1.01;
    state.motion.starter_rad_s *= 1.01;
    const StepState<double> start = state.motion;
    ModelCycle cycle;
    run_cycle(engine.model, engine.tables, state, cycle);
    const StepState<double>& end = state.motion;
    Tangent tangent;
    tangent_of(engine.model, engine.tables, cycle, Seen::load, tangent);
    const Eigen::Vector4d off(end.crank_rad_s - start.crank_rad_s, end.starter_rad_s - start.starter_rad_s,
                              end.twist_rad - start.twist_rad, end.load - start.load);
    const Eigen::VectorXd step = tangent.settling * off;
    const double periodic_rad_s = engine.state.motion.crank_rad_s;
    CHECK(std::abs(start.crank_rad_s + step[0] - periodic_rad_s) <
          0.1 * std::abs(start.crank_rad_s - periodic_rad_s));
}

TEST_CASE("interval: two cylinders almost alike -> the higher reaches down to where the other may be above") {
    const Contributions found = contributions_of_peaks({10.0, 9.9});
    CHECK(std::abs(found.pct[1] - 99) < 1e-9);
    CHECK(found.high_pct[0] == 100);
    // Normal quantiles 0.975 and 0.95: 1.959964 and 1.644854 (any table). With one other cylinder the highest
    // falls short of it with a chance of 5 % where that one exceeds 99 + 1.644854 standard deviations; found
    // to a thousandth of a point.
    const double sd = (99 - found.low_pct[1]) / 1.959964;
    CHECK(std::abs(found.low_pct[0] - 1e4 / (99 + 1.644854 * sd)) < 2e-3);
}

TEST_CASE("interval: the other cylinder far below -> nothing puts the highest in question") {
    CHECK(contributions_of_peaks({10.0, 5.0}).low_pct[0] == 100);
}

TEST_CASE(
    "interval: a peak that its own division by itself does not leave whole -> 100, inside its interval") {
    constexpr double peak = 10.822;
    REQUIRE(100 * peak / peak < 100);
    const Contributions found = contributions_of_peaks({peak, 5.0});
    CHECK(found.pct[0] == 100);
    CHECK(found.low_pct[0] <= found.pct[0]);
}

TEST_CASE(
    "interval: one cylinder far above its sound fellows -> they may be higher than found, it is not said "
    "lower") {
    const auto width_up = [](const Contributions& found, Eigen::Index c) {
        return found.high_pct[c] - found.pct[c];
    };
    // A spread of 2 points is usual: nothing is added.
    const Contributions alike = contributions_of_peaks({10.0, 9.81, 8.1, 9.81, 4.0});
    CHECK(std::abs(width_up(alike, 2) - (alike.pct[2] - alike.low_pct[2])) < 1e-9);
    const Contributions apart = contributions_of_peaks({11.2, 9.8, 9.8, 9.8, 4.0});
    for (Eigen::Index c = 1; c < 4; ++c) {
        CHECK(width_up(apart, c) > apart.pct[c] - apart.low_pct[c] + 1);
    }
    // A cylinder that is weak does not make the others' spread.
    const Contributions few = contributions_of_peaks({11.2, 9.8, 4.0});
    CHECK(std::abs(width_up(few, 1) - (few.pct[1] - few.low_pct[1])) < 1e-9);
}

TEST_CASE("interval: low charge -> wider than a leak that takes as much") {
    const auto half = [](double charge) {
        const Contributions found = contributions_of_peaks({10.0, 9.9, 7.0}, charge);
        return found.pct[2] - found.low_pct[2];
    };
    // A tenth of the 20 points that count at most, with three cylinders 1.15 times; variances add.
    const double more = 1.959964 * 0.1 * 20 * 1.15;
    CHECK(half(0.7) == doctest::Approx(std::hypot(half(1.0), more)));
    CHECK(half(0.3) == doctest::Approx(half(0.2)));  // large losses are of one kind
}
