// The engine: its layout in time (who fires when) and its geometry (what a cylinder's volume does).
#pragma once

#include <optional>
#include <string>
#include <vector>

namespace evenstroke {

inline constexpr double cycle_deg = 720.0;  ///< one four-stroke cycle
inline constexpr int max_cylinders = 16;
inline constexpr double pi = 3.14159265358979323846;

/// Who fires when. Positions count from 0 in firing sequence, from the reference cylinder on.
struct EngineLayout {
    std::vector<double> intervals_deg;  ///< [cylinders] from each firing TDC to the next; they sum to 720
    std::vector<int> order;             ///< cylinder names in firing sequence; empty when not known

    [[nodiscard]] int cylinders() const { return static_cast<int>(intervals_deg.size()); }
    /// Firing TDC of every position, degrees after that of position 0: [0, i0, i0+i1, …], each in [0, 720).
    [[nodiscard]] std::vector<double> firing_tdc_deg() const;
    /// All intervals alike, within the degree that the ways of writing them differ by.
    [[nodiscard]] bool fires_evenly() const;
    /// The least number of positions after which the intervals come again: 1 when it fires evenly,
    /// `cylinders()` when only a whole cycle repeats, 0 without cylinders.
    [[nodiscard]] int repeats_after() const;
};

/// Builds and checks a layout from what the user said. `cylinders` may follow from `order` or
/// `intervals_deg`; even intervals when none are given. With `first` the order is rotated so that this
/// cylinder is position 0. Throws Error{bad_engine} (0 or more than 16 cylinders, an order that repeats or
/// omits a cylinder, intervals that do not sum to 720 within 0.5 degrees or are not positive, numbers that
/// contradict each other, `first` not in the order).
[[nodiscard]] EngineLayout make_layout(std::optional<int> cylinders, const std::vector<int>& order,
                                       const std::vector<double>& intervals_deg, std::optional<int> first);

/// Cylinder and crank dimensions.
struct Geometry {
    double bore_m = 0.086;
    double stroke_m = 0.086;
    double rod_m = 0.1435;
    double compression_ratio = 10.5;
};

/// Swept volume of one cylinder, m³.
[[nodiscard]] double displacement_m3(const Geometry& geometry);
/// Cylinder volume at `angle_rad` after TDC, m³. Source: Heywood 1988, ch. 2 (slider-crank).
[[nodiscard]] double volume_m3(const Geometry& geometry, double angle_rad);
/// dV/dangle at `angle_rad` after TDC, m³/rad: gas torque = (p - p_crankcase) * this.
[[nodiscard]] double volume_slope_m3_per_rad(const Geometry& geometry, double angle_rad);

}  // namespace evenstroke
