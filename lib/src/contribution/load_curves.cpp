#include "load_curves.hpp"

#include <cmath>

namespace evenstroke::contribution {

void add_cycles(Contribution& out, const Load& load, const CycleAverage& average, const FitResult& fit,
                const CycleAngle& within) {
    const auto& made = fit.cycle.load;
    // Degree 0 is position 0's firing TDC; the fold may begin at a mark before or after it.
    const double tdc_deg = fit.model.cylinders[0].firing_deg;
    for (int d = 0; d < static_cast<int>(cycle_deg); ++d) {
        const double degree = std::fmod(d + tdc_deg + 2 * cycle_deg, cycle_deg);
        out.mean_cycle.push_back(load.as_recorded(at_share(average.mean, within.share(degree))));
        out.model_cycle.push_back(load.as_recorded(at_degree(made, degree) - fit.zero));
    }
}

void add_knots(Contribution& out, const PhaseMap& phases, const FitResult& fit, const CycleAngle& within,
               double from_s, double to_s) {
    constexpr double knot_step_deg = 10;
    const double tdc_deg = fit.model.cylinders[0].firing_deg;
    const double first_deg = within.degrees(phases.phase(from_s));
    const double last_deg = within.degrees(phases.phase(to_s));
    for (double deg = std::ceil(first_deg / knot_step_deg) * knot_step_deg; deg <= last_deg;
         deg += knot_step_deg) {
        out.knot_s.push_back(phases.time_s(within.share(deg)));
        out.knot_deg.push_back(deg - tdc_deg);
    }
}

}  // namespace evenstroke::contribution
