// The gas model fitted to the readings of all pulses at once. Method: docs/pressure.md, "The fit".
#pragma once

#include <Eigen/Core>
#include <optional>
#include <vector>

#include "gas_model.hpp"

namespace evenstroke::pressure {

/// Readings of one pulse, as means over short times.
struct PulseData {
    std::vector<double> time_s;
    std::vector<double> reading_pa;
    std::vector<double> count;  ///< readings in each mean
    std::vector<double> sd_pa;  ///< expected error of each mean, the model's own share included
    double period_s = 0;        ///< of the cycle it stands in
};

/// Of the charge before compression, absolute: a throttle that is shut at the worst, or a wrong guess of the
/// offset on the way to the fit.
inline constexpr double least_intake_pa = 10e3;

/// A normal prior.
struct Prior {
    double mean = 0;
    double sd = 1;
};

struct FitSetup {
    Geometry geometry;
    bool ratio_known = true;
    double usual_ratio = 11;  ///< where it is not known
    double mean_speed_rad_s = 20;
    double first_deg = -100;  ///< both valves closed from here …
    double last_deg = 110;    ///< … to here
    Prior offset_pa;          ///< reading = absolute pressure + offset
    Prior ambient_pa{100e3, 2.5e3};
    double intake_pa = 100e3;         ///< reading at the end of the intake stroke
    std::optional<Prior> plateau_pa;  ///< reading while a valve is open: ambient + offset
};

struct FitResult {
    CylinderState cylinder;
    double offset_pa = 0;
    std::vector<PulseState> pulses;
    std::vector<GasCurve> curves;
    Eigen::MatrixXd covariance;  ///< of the unknowns below, shared ones first, then own ones pulse by pulse
    double misfit = 0;           ///< residuals' sum of squares over their number, 1 when as expected
    /// How far the shared unknown that strays most lies from what was expected, in sds of its prior; leak and
    /// compression ratio may lie anywhere and do not count.
    double strain_sd = 0;
    double cost = 0;
    double offset_scale_pa = 1;
    int steps = 0;
};

/// Shared unknowns in the order of the vector; the ratio is fixed when it is known.
enum class Shared { offset, leak, heat, gamma, ambient, ratio, inertia, rotor, friction, drive, pull, lag };
inline constexpr Eigen::Index shared_count = 12;
/// Then, behind the speed's splines, those of each pulse.
enum class Own { tdc, speed, slope, start };
inline constexpr Eigen::Index own_count = 4;

/// Place of an unknown in its part of the vector.
[[nodiscard]] constexpr Eigen::Index place(Shared unknown) {
    return static_cast<Eigen::Index>(unknown);
}
[[nodiscard]] constexpr Eigen::Index place(Own unknown) {
    return static_cast<Eigen::Index>(unknown);
}

/// Fits from `start` (shared) and `pulses` on. `data` and `pulses` are equally long and not empty.
/// With `own_only` the shared unknowns stay as they are.
[[nodiscard]] FitResult fit(const FitSetup& setup, const std::vector<PulseData>& data,
                            const CylinderState& start, double offset_pa,
                            const std::vector<PulseState>& pulses, int most_steps, bool own_only = false);

/// Sd of ln(leak), ln(heat), ln(ratio - 1), offset in Pa; of others in prior sds.
[[nodiscard]] double shared_sd(const FitResult& result, Shared which);
[[nodiscard]] double tdc_sd_s(const FitResult& result, std::size_t pulse);

}  // namespace evenstroke::pressure
