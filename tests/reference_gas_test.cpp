// End of compression, exponents and the starter's circuit against worked examples of references.md, B2, B3, C
// and G.
#include <doctest/doctest.h>

#include <cmath>

#include "evenstroke/pressure.hpp"
#include "pressure/thermo.hpp"
#include "support/printed.hpp"
#include "synth/gas.hpp"
#include "synth/starter.hpp"

using namespace evenstroke;

namespace {

/// The mean cycle of a gas that follows p V^n = C exactly, `bar` at bottom dead centre, `less_kpa` taken off.
Pressure polytropic(double n, double compression_ratio, double bar, double less_kpa = 0) {
    constexpr int half_deg = 360;
    Pressure p;
    p.geometry.compression_ratio = compression_ratio;
    p.geometry_known = true;
    const double bottom_m3 = volume_m3(p.geometry, pi);
    p.cycle.pressure_kpa.assign(2 * half_deg, std::nullopt);
    for (int deg = -180; deg <= 180; ++deg)
        p.cycle.pressure_kpa[static_cast<std::size_t>(deg + half_deg)] =
            100 * bar * std::pow(bottom_m3 / volume_m3(p.geometry, deg * pi / 180), n) - less_kpa;
    return p;
}

double top_bar(const Pressure& p) {
    return p.cycle.pressure_kpa[360].value() / 100;
}

struct Steady {
    double current_a, volts;  ///< volts across the battery's posts
};

/// The circuit after half a second at a fixed speed: hundreds of its time constants.
Steady steady(double open_v, double battery_ohm, double other_ohm, double back_emf_v = 0) {
    synth::Circuit circuit;
    circuit.open_v = open_v;
    circuit.battery_ohm = battery_ohm;
    circuit.resistance_ohm = battery_ohm + other_ohm;
    circuit.constant_v_s = 1;
    synth::CircuitState state;
    for (int i = 0; i < 10'000; ++i) synth::step_closed(circuit, state, back_emf_v, 50e-6);
    return {state.current_a, synth::battery_v(circuit, state)};
}

}  // namespace

TEST_CASE("pressure: end of compression of printed examples -> their exponent is found") {
    struct Example {
        double ratio, n, bar, top_bar, half_digit;
    };
    const Example examples[] = {
        {8, 1.4, 1, 18.3792, 5e-5},                                        // B2.2, EVALUATED (Rajput)
        {8, 1.3, 1, 14.92853, 5e-6},                                       // B2.4, EVALUATED
        {8, 1.4, 14.7 * 0.06894757, 270.174 * 0.06894757, 5e-4 * 0.0689},  // B2.1, EVALUATED (Balmer), psia
        {22, 1.4, 1.013, 76.736, 5e-4},                                    // B2.7, inputs PRINTED, COMPUTED
        {7.5, 1.3, 1, 13.72713, 5e-6},  // B2.5: 13.7 bar PRINTED, the ratio COMPUTED
    };
    for (const Example& e : examples) {
        CAPTURE(e.top_bar);
        const Pressure p = polytropic(e.n, e.ratio, e.bar);
        check_printed(top_bar(p), e.top_bar, e.half_digit);
        const auto compression = pressure::exponent(p, -120, -10, 0);
        const auto expansion = pressure::exponent(p, 10, 120, 0);
        REQUIRE(compression);
        REQUIRE(expansion);
        // A straight line through exact points: rounding of the logarithms only.
        CHECK(std::abs(compression->value - e.n) < 1e-9);
        CHECK(std::abs(expansion->value - e.n) < 1e-9);
    }
    // B2.1 and B2.5 as they are printed: 270 psia; 201.8 psi absolute, 187.1 gauge.
    check_printed(14.7 * std::pow(8, 1.4), 270, 0.5);
    check_printed(14.7 * top_bar(polytropic(1.3, 7.5, 1)), 201.8, 0.05);
    check_printed(14.7 * (top_bar(polytropic(1.3, 7.5, 1)) - 1), 187.1, 0.05);
}

TEST_CASE("pressure: the same compression above the outside instead of absolute -> a wrong exponent") {
    // references.md B2, the trap named there: gauge for absolute. Anything but the true 1.3 shows that it
    // matters.
    const auto n = pressure::exponent(polytropic(1.3, 8, 1, 99), -120, -10, 0);
    REQUIRE(n);
    CHECK(n->value > 1.4);
}

TEST_CASE("pressure: too little to fit a line through -> no exponent") {
    CHECK_FALSE(pressure::exponent(Pressure{}, -120, -10, 0));
    CHECK_FALSE(pressure::exponent(polytropic(1.3, 8, 1), -12, -10, 0));
    CHECK_FALSE(pressure::exponent(polytropic(1.3, 8, 1, 1e6), -120, -10, 0));
}

TEST_CASE("synth: critical ratio of a nozzle -> (2/(k+1))^(k/(k-1))") {
    // B3 COMPUTED: k 1.4 0.5282818, k 1.3 0.5457277. Choked flow does not fall below it and falls just above.
    for (const auto& row : {std::pair{1.4, 0.5282818}, {1.3, 0.5457277}}) {
        const double k = row.first, critical = row.second;
        CAPTURE(k);
        CHECK(std::abs(std::pow(2 / (k + 1), k / (k - 1)) - critical) < 5e-8);
        CHECK(synth::flow_factor(critical - 1e-6, k) == synth::flow_factor(0, k));
        CHECK(synth::flow_factor(critical + 1e-2, k) < synth::flow_factor(0, k));
    }
    // B3 COMPUTED: A p0 / sqrt(T0) with air (R 287) has the coefficient 0.0404184; the model's R is 287.05:
    // 1e-4.
    CHECK(std::abs(synth::orifice_flow(1, 1, 1, 0, 1.4) / 0.0404184 - 1) < 2e-4);
}

TEST_CASE("synth: the circuit at rest and at speed -> the textbooks' currents and voltages") {
    // C1 PRINTED (OpenStax College Physics): 200 A and 10.0 V; with 0.0900 ohm of corrosion 80 A.
    check_printed(steady(12, 0.01, 0.05).current_a, 200, 1e-6);
    check_printed(steady(12, 0.01, 0.05).volts, 10.0, 1e-6);
    check_printed(steady(12, 0.01, 0.05 + 0.09).current_a, 80, 1e-6);
    // C1, power in the starter: 2.00 kW and 320 W.
    check_printed(200.0 * 200 * 0.05, 2000, 1e-9);
    const double corroded_a = steady(12, 0.01, 0.05 + 0.09).current_a;
    check_printed(corroded_a * corroded_a * 0.05, 320, 1e-3);
    // C2 PRINTED 122.44 A (cut off), exact 122.449 A and 7.7143 V; with 0.0900 ohm 63.829 A.
    check_printed(steady(12, 0.035, 0.063).current_a, 122.449, 5e-4);
    check_printed(steady(12, 0.035, 0.063).volts, 7.7143, 5e-5);
    check_printed(steady(12, 0.035, 0.063 + 0.09).current_a, 63.829, 1e-3);  // printed cut off
    // C3, Giancoli fig. 26-88 (inputs PRINTED, COMPUTED): power falls to (0.17 / 0.27)^2 = 0.396433.
    const double healthy = steady(12.5, 0.02, 0.15).current_a;
    const double rusty = steady(12.5, 0.02, 0.15 + 0.10).current_a;
    check_printed(rusty * rusty / (healthy * healthy), 0.396433, 5e-7);
    // C4, OpenStax ex. 21.4 (EVALUATED): 11.9 V; 10.0 V; with r 0.5 ohm 12.0 A and 6.00 V.
    check_printed(steady(12, 0.1, 10).volts, 11.9, 0.05);
    check_printed(steady(12, 0.1, 0.5).volts, 10.0, 0.05);
    check_printed(steady(12, 0.5, 0.5).current_a, 12.0, 1e-6);
    check_printed(steady(12, 0.5, 0.5).volts, 6.00, 1e-6);
    // C5 PRINTED: 115 V, 21.5 A standing (R 5.3488), 6.5 A running: 80.23 V of back-EMF.
    check_printed(steady(115, 0, 5.3488).current_a, 21.5, 5e-4);
    check_printed(steady(115, 0, 5.3488, 80.23).current_a, 6.5, 1e-3);
    // C6 PRINTED: 6.00 V, back-EMF 4.50 V, 3.00 A through 0.5 ohm; 12.0 A at the start.
    check_printed(steady(6, 0, 0.5, 4.5).current_a, 3.00, 1e-6);
    check_printed(steady(6, 0, 0.5).current_a, 12.0, 1e-6);
    // C7, Kosow ex. 1-13 (EVALUATED): 125 V, 0.25 ohm, 60 A leave 110 V.
    check_printed(steady(125, 0, 0.25, 110).current_a, 60, 1e-6);
}

TEST_CASE("pressure: altitude -> the standard atmosphere's pressure and density ratios") {
    // references.md G, COMPUTED (ISA): 1000 to 6000 ft. To the four digits printed there.
    const double delta[] = {.9644, .9298, .8963, .8637, .8321, .8014};
    const double sigma[] = {.9711, .9428, .9151, .8881, .8617, .8359};
    for (int i = 0; i < 6; ++i) {
        CAPTURE(i);
        CHECK(std::abs(ambient_at_kpa(1000.0 * (i + 1) * 0.3048) / 101.325 - delta[i]) < 1e-4);
        CHECK(std::abs(air_density_ratio(1000.0 * (i + 1) * 0.3048) - sigma[i]) < 1e-4);
    }
}
