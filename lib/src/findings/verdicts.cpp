#include "verdicts.hpp"

#include <cmath>
#include <numbers>

#include "signal/statistics.hpp"

namespace evenstroke::findings {

namespace {

bool is_known(const CylinderContribution& c) {
    return c.contribution_pct && c.low_pct && c.high_pct && std::isfinite(*c.contribution_pct) &&
           std::isfinite(*c.low_pct) && std::isfinite(*c.high_pct);
}

bool is_weak(const CylinderContribution& c, double weak_below_pct) {
    return is_known(c) && *c.high_pct < weak_below_pct;
}

/// How much wider than a single 95 % interval one must be for `comparisons` of them to hold together
/// (Bonferroni), for a normal error; Student's t with many degrees stands for the normal.
double together_factor(std::size_t comparisons) {
    constexpr double many_degrees = 1e6;
    constexpr double one_tail = 0.025;
    const double single = signal::student_t_quantile(1 - one_tail, many_degrees);
    return signal::student_t_quantile(1 - one_tail / static_cast<double>(comparisons), many_degrees) / single;
}

/// How well the median of `count` figures is known, relative to one of them: for normal errors that are
/// independent, a mean's for one or two, for more what the median loses to it (a factor sqrt(pi / 2)).
double share_of_median(std::size_t count) {
    const auto n = static_cast<double>(count);
    return count < 3 ? 1 / std::sqrt(n) : std::sqrt(std::numbers::pi / 2 / n);
}

/// Below the median of the other cylinders that are not weak, by more than both intervals allow.
bool is_low(const std::vector<CylinderContribution>& cylinders, std::size_t position, double weak_below_pct) {
    std::vector<double> others_pct;
    std::vector<double> margins_pct;
    for (std::size_t i = 0; i < cylinders.size(); ++i) {
        const auto& c = cylinders[i];
        if (i == position || !is_known(c) || is_weak(c, weak_below_pct)) continue;
        others_pct.push_back(*c.contribution_pct);
        margins_pct.push_back(*c.contribution_pct - *c.low_pct);
    }
    if (others_pct.empty()) return false;
    const auto& own = cylinders[position];
    const double difference_pct = signal::median(others_pct) - *own.contribution_pct;
    const double median_share = share_of_median(others_pct.size());
    const double chance_pct =
        together_factor(cylinders.size()) *
        std::hypot(*own.high_pct - *own.contribution_pct, median_share * signal::median(margins_pct));
    return difference_pct > chance_pct && difference_pct > least_difference_pct;
}

}  // namespace

std::vector<Verdict> verdicts(const std::vector<CylinderContribution>& cylinders, double weak_below_pct) {
    std::vector<Verdict> words;
    for (std::size_t i = 0; i < cylinders.size(); ++i) {
        const auto& c = cylinders[i];
        if (!is_known(c))
            words.push_back(Verdict::unsure);
        else if (is_weak(c, weak_below_pct))
            words.push_back(Verdict::weak);
        else if (is_low(cylinders, i, weak_below_pct))
            words.push_back(Verdict::low);
        else
            words.push_back(*c.low_pct < weak_below_pct ? Verdict::unsure : Verdict::even);
    }
    return words;
}

}  // namespace evenstroke::findings
