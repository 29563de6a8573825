#include "synth/gas.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace evenstroke::synth {

namespace {

constexpr double cold_heat_ratio = 1.40;
constexpr double reference_k = 300;
/// Slope of the air tables between 300 and 1000 K.
constexpr double heat_ratio_per_k = -8.5e-5;
constexpr double least_heat_ratio = 1.28;
/// Heat transfer of still gas, W/(m² K): keeps the walls felt where the piston stands.
constexpr double still_heat_w_per_m2_k = 8;

/// flow_factor for k = 1.4, tabulated: the loop needs millions. Linear between the entries; the last cell
/// makes the flow linear (laminar) in the last half per mille of pressure.
constexpr int table_cells = 2048;
constexpr double table_low = 0.5;

struct FlowTable {
    std::array<double, table_cells + 1> value{};
    FlowTable() {
        for (int i = 0; i <= table_cells; ++i)
            value[static_cast<std::size_t>(i)] =
                flow_factor(table_low + (1 - table_low) * i / table_cells, cold_heat_ratio);
    }
};

double table_factor(double pressure_ratio) {
    static const FlowTable table;
    if (pressure_ratio <= table_low) return table.value[0];
    const double place = std::min((pressure_ratio - table_low) / (1 - table_low), 1.0) * table_cells;
    const int cell = std::min(static_cast<int>(place), table_cells - 1);
    const double part = place - cell;
    const auto i = static_cast<std::size_t>(cell);
    return table.value[i] + part * (table.value[i + 1] - table.value[i]);
}

/// (1 + x)^a to third order: x is the change of volume in one step, at most a few per cent.
double power_near_one(double x, double a) {
    return 1 + a * x * (1 + (a - 1) / 2 * x * (1 + (a - 2) / 3 * x));
}

}  // namespace

double heat_ratio(double temperature_k) {
    return std::max(least_heat_ratio, cold_heat_ratio + heat_ratio_per_k * (temperature_k - reference_k));
}

double flow_factor(double pressure_ratio, double k) {
    const double critical = std::pow(2 / (k + 1), k / (k - 1));
    const double ratio = std::clamp(pressure_ratio, critical, 1.0);
    return std::sqrt(2 * k / (k - 1) * (std::pow(ratio, 2 / k) - std::pow(ratio, (k + 1) / k)));
}

double orifice_flow(double area_m2, double pressure_pa, double temperature_k, double back_pa, double k) {
    return area_m2 * pressure_pa / std::sqrt(gas_constant * temperature_k) *
           flow_factor(back_pa / pressure_pa, k);
}

Gas fill(double volume_m3, double pressure_pa, double temperature_k) {
    Gas gas;
    gas.volume_m3 = volume_m3;
    gas.pressure_pa = pressure_pa;
    gas.temperature_k = temperature_k;
    gas.mass_kg = pressure_pa * volume_m3 / (gas_constant * temperature_k);
    return gas;
}

void refresh_heat(Gas& gas, const Walls& walls) {
    if (!walls.cooled) {
        gas.heat_w_per_m2_k = 0;
        return;
    }
    gas.heat_w_per_m2_k = still_heat_w_per_m2_k + 3.26 * std::pow(walls.bore_m, -0.2) *
                                                      std::pow(gas.pressure_pa / 1000, 0.8) *
                                                      std::pow(gas.temperature_k, -0.55) *
                                                      std::pow(std::abs(walls.gas_speed_m_s), 0.8);
}

void advance(Gas& gas, double volume_m3, const Path* paths, int path_count, double* into_kg,
             const Walls& walls, double wall_area_m2, double heat_j, double dt_s) {
    const double k = heat_ratio(gas.temperature_k);
    const double squeeze = gas.volume_m3 / volume_m3 - 1;
    gas.temperature_k *= power_near_one(squeeze, k - 1);
    gas.volume_m3 = volume_m3;
    gas.pressure_pa = gas.mass_kg * gas_constant * gas.temperature_k / volume_m3;

    // Explicit flows first, with how strongly each answers to the cylinder's pressure.
    const double pressure_per_kg = k * gas_constant * gas.temperature_k / volume_m3;
    double answer_per_s = 0;
    for (int i = 0; i < path_count; ++i) {
        into_kg[i] = 0;
        const Path& path = paths[i];
        if (path.area_m2 <= 0) continue;
        const double difference = path.far.pressure_pa - gas.pressure_pa;
        if (difference == 0) continue;
        const bool in = difference > 0;
        const double before = in ? path.far.pressure_pa : gas.pressure_pa;
        const double behind = in ? gas.pressure_pa : path.far.pressure_pa;
        const double before_k = in ? path.far.temperature_k : gas.temperature_k;
        const double flow =
            path.area_m2 * before / std::sqrt(gas_constant * before_k) * table_factor(behind / before);
        into_kg[i] = (in ? flow : -flow) * dt_s;
        answer_per_s += flow / std::abs(difference) * pressure_per_kg;
    }
    const double damping = 1 / (1 + answer_per_s * dt_s);
    double mass_change = 0;
    double heating = 0;  // kg K
    for (int i = 0; i < path_count; ++i) {
        into_kg[i] *= damping;
        mass_change += into_kg[i];
        heating += into_kg[i] * (into_kg[i] > 0 ? k * paths[i].far.temperature_k - gas.temperature_k
                                                : (k - 1) * gas.temperature_k);
    }
    const double heat_capacity = gas_constant / (k - 1);  // J/(kg K), constant volume
    const double wall_j =
        gas.heat_w_per_m2_k * wall_area_m2 * (gas.temperature_k - walls.temperature_k) * dt_s;
    gas.mass_kg += mass_change;
    gas.temperature_k += (heating + (heat_j - wall_j) / heat_capacity) / gas.mass_kg;
    gas.pressure_pa = gas.mass_kg * gas_constant * gas.temperature_k / volume_m3;
}

void drain(Gas& gas, double mass_kg, double k) {
    gas.temperature_k -= mass_kg * (k - 1) * gas.temperature_k / (gas.mass_kg - mass_kg);
    gas.mass_kg -= mass_kg;
}

}  // namespace evenstroke::synth
