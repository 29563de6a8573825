#include "gas_torque.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace evenstroke::contribution {

namespace {

constexpr double degree = pi / 180;
/// Choked below this ratio of outer to inner pressure, air (references.md B3: 0.5282818).
constexpr double critical_ratio = 0.5282818;

/// Where the piston is, and how fast it goes, at one crank angle. volume_m3() is the same in metres, and in
/// other roundings, which the fit of a pressure shows in its last digits.
struct SliderCrank {
    double travel;  ///< from the top, in strokes: 0 at TDC, 1 at the bottom
    double slope;   ///< of the travel, per radian
};

SliderCrank slider_crank(double sine, double cosine) {
    const double rod = std::sqrt(1 - crank_to_rod_ratio * crank_to_rod_ratio * sine * sine);
    return {.travel = 0.5 * (1 - cosine + (1 - rod) / crank_to_rod_ratio),
            .slope = 0.5 * sine * (1 + crank_to_rod_ratio * cosine / rod)};
}

SliderCrank slider_crank(double angle_rad) {
    return slider_crank(std::sin(angle_rad), std::cos(angle_rad));
}

/// Sine and cosine of every node's angle.
struct NodeAngles {
    std::vector<double> sine, cosine;
    explicit NodeAngles(Grid grid) {
        for (int node = 0; node < grid.steps; ++node) {
            const double angle_rad = node * grid.step_deg() * degree;
            sine.push_back(std::sin(angle_rad));
            cosine.push_back(std::cos(angle_rad));
        }
    }
};

/// A fit makes gas tables by the thousand: the angles of its grids are worked out once.
const NodeAngles& node_angles(Grid grid) {
    assert(grid.steps == fine_grid.steps || grid.steps == coarse_grid.steps);
    static const NodeAngles fine(fine_grid), coarse(coarse_grid);
    return grid.steps == fine_grid.steps ? fine : coarse;
}

/// Of one lobe whose lift is a squared sine, on springs that push about alike all along: as its lift falls.
double spring_torque(double after_tdc_deg, double opens_deg, double closes_deg) {
    const double phase_deg = after_tdc_deg - cycle_deg * std::floor(after_tdc_deg / cycle_deg);
    if (phase_deg < opens_deg || phase_deg > closes_deg) return 0;
    return -std::sin(2 * pi * (phase_deg - opens_deg) / (closes_deg - opens_deg));
}

/// A cylinder never draws from further below.
constexpr double least_inner_ratio = 0.05;

/// Flow over choked flow at `ratio` of the lower to the higher pressure.
double leak_ellipse(double ratio) {
    if (ratio <= critical_ratio) return 1.0;
    const double share = (ratio - critical_ratio) / (1 - critical_ratio);
    return std::sqrt(std::max(0.0, 1 - share * share));
}

}  // namespace

double relative_volume(double compression_ratio, double angle_rad) {
    return 1 / (compression_ratio - 1) + slider_crank(angle_rad).travel;
}

double sealed_volume_ratio(double compression_ratio) {
    const double closes_rad = (180 - intake_closes_after_bdc_deg) * pi / 180;
    return relative_volume(compression_ratio, closes_rad) / relative_volume(compression_ratio, 0);
}

double leak_flow(double pressure_ratio) {
    if (pressure_ratio >= 1) return leak_ellipse(1 / pressure_ratio);
    const double inner = std::max(pressure_ratio, least_inner_ratio);
    return -leak_ellipse(inner) / inner;
}

double leak_flow_slope(double pressure_ratio) {
    const double ratio = pressure_ratio >= 1 ? 1 / pressure_ratio : pressure_ratio;
    if (ratio < least_inner_ratio && pressure_ratio < 1) return 0;
    const double ellipse = leak_ellipse(ratio);
    const double falls =
        ratio <= critical_ratio
            ? 0.0
            : (ratio - critical_ratio) / ((1 - critical_ratio) * (1 - critical_ratio)) / ellipse;
    return pressure_ratio >= 1 ? ratio * falls : falls + ellipse / ratio;
}

void tabulate(const CylinderGas& gas, Grid grid, bool with_springs, GasTable& table) {
    table.grid = grid;
    const auto nodes = static_cast<std::size_t>(grid.steps);
    const double step_deg = grid.step_deg();
    for (std::vector<double>* v : {&table.slope, &table.pressure, &table.leak, &table.open,
                                   &table.ratio_slope, &table.leak_ratio_slope})
        v->resize(nodes);
    table.valves.resize(with_springs ? nodes : 0);
    const double closes = -180 + intake_closes_after_bdc_deg;
    const double volume_closed = relative_volume(gas.compression_ratio, closes * degree);
    table.first_closed = static_cast<int>(std::ceil((gas.firing_deg + closes) / step_deg));
    const double opens_deg = gas.exhaust_shut ? intake_opens_deg : exhaust_opens_deg;
    const double fully_open_deg = gas.exhaust_shut ? intake_let_out_deg : exhaust_fully_open_deg;
    const int last = static_cast<int>(std::floor((gas.firing_deg + fully_open_deg) / step_deg));
    table.closed_nodes = last - table.first_closed + 1;
    const int first_intake = static_cast<int>(std::ceil((gas.firing_deg - 360) / step_deg));
    const double clearance = 1 / (gas.compression_ratio - 1);
    // The nodes' sines, turned back by the firing angle.
    const NodeAngles& nodes_at = node_angles(grid);
    const double firing_sine = std::sin(gas.firing_deg * degree);
    const double firing_cosine = std::cos(gas.firing_deg * degree);
    for (int node = first_intake; node < first_intake + grid.steps; ++node) {
        const std::size_t at = grid.wrapped(node);
        const double after_tdc_deg = node * step_deg - gas.firing_deg;
        if (with_springs)
            table.valves[at] =
                spring_torque(after_tdc_deg, intake_opens_deg, intake_closes_deg) +
                (gas.exhaust_shut ? 0.0
                                  : spring_torque(after_tdc_deg, exhaust_opens_deg, exhaust_closes_deg));
        if (node > last) {
            table.open[at] = 1;
            continue;
        }
        const SliderCrank piston =
            slider_crank(nodes_at.sine[at] * firing_cosine - nodes_at.cosine[at] * firing_sine,
                         nodes_at.cosine[at] * firing_cosine + nodes_at.sine[at] * firing_sine);
        table.slope[at] = piston.slope;
        if (node < table.first_closed) {
            table.open[at] = -1;
            continue;
        }
        const double volume = clearance + piston.travel;
        const double ratio = volume_closed / volume;
        const double heating = std::pow(ratio, polytropic_exponent - 1);
        table.pressure[at] = ratio * heating;
        table.leak[at] = ratio / volume_closed * std::sqrt(heating);
        const double ratio_slope = clearance * (1 / volume - 1 / volume_closed);
        table.ratio_slope[at] = polytropic_exponent * ratio_slope;
        table.leak_ratio_slope[at] = clearance / volume + 0.5 * (polytropic_exponent - 1) * ratio_slope;
        const double opening = (after_tdc_deg - opens_deg) / (fully_open_deg - opens_deg);
        table.open[at] = opening <= 0 ? 0.0 : 0.5 * (1 - std::cos(pi * opening));
    }
}

GasTable gas_table(const CylinderGas& gas, Grid grid) {
    GasTable table;
    tabulate(gas, grid, true, table);
    return table;
}

}  // namespace evenstroke::contribution
