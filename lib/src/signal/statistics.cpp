#include "statistics.hpp"

#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cassert>
#include <cmath>
#include <numeric>

namespace evenstroke::signal {

double student_t_quantile(double probability, double degrees) {
    return boost::math::quantile(boost::math::students_t(degrees), probability);
}

double student_t_tail(double t, double degrees) {
    return 2 * boost::math::cdf(boost::math::complement(boost::math::students_t(degrees), std::abs(t)));
}

double mean(std::span<const double> values) {
    assert(!values.empty());
    const double count = static_cast<double>(values.size());
    const double first = std::accumulate(values.begin(), values.end(), 0.0) / count;
    double residue = 0;  // second pass: what rounding lost in the first
    for (const double v : values) residue += v - first;
    return first + residue / count;
}

double standard_deviation(std::span<const double> values) {
    assert(values.size() >= 2);
    const double centre = mean(values);
    double squares = 0;
    for (const double v : values) squares += (v - centre) * (v - centre);
    return std::sqrt(squares / static_cast<double>(values.size() - 1));
}

double median(std::vector<double> values) {
    if (values.empty()) return std::numeric_limits<double>::quiet_NaN();
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    if (values.size() % 2 == 1) return *middle;
    return (*middle + *std::max_element(values.begin(), middle)) / 2;
}

std::optional<Line> fit_line(std::span<const double> x, std::span<const double> y) {
    assert(x.size() == y.size());
    if (x.size() < 3) return std::nullopt;
    const double x_mean = mean(x);
    const double y_mean = mean(y);
    double xx = 0;
    double xy = 0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        xx += (x[i] - x_mean) * (x[i] - x_mean);
        xy += (x[i] - x_mean) * (y[i] - y_mean);
    }
    if (!(xx > 0)) return std::nullopt;
    Line line;
    line.slope = xy / xx;
    double residual = 0;  // summed afresh: a difference of sums would lose the digits when the fit is good
    for (std::size_t i = 0; i < x.size(); ++i) {
        const double miss = (y[i] - y_mean) - line.slope * (x[i] - x_mean);
        residual += miss * miss;
    }
    const double count = static_cast<double>(x.size());
    line.residual_sd = std::sqrt(residual / (count - 2));
    line.slope_se = line.residual_sd / std::sqrt(xx);
    return line;
}

std::optional<Welch> welch_test(std::span<const double> first, std::span<const double> second) {
    if (first.size() < 2 || second.size() < 2) return std::nullopt;
    const auto share = [](std::span<const double> values) {
        const double sd = standard_deviation(values);
        return sd * sd / static_cast<double>(values.size());
    };
    const double a = share(first);
    const double b = share(second);
    if (!(a + b > 0)) return std::nullopt;
    Welch w{.difference = mean(second) - mean(first), .standard_error = std::sqrt(a + b)};
    w.t_ratio = w.difference / w.standard_error;
    w.degrees =
        (a + b) * (a + b) /
        (a * a / static_cast<double>(first.size() - 1) + b * b / static_cast<double>(second.size() - 1));
    w.p = student_t_tail(w.t_ratio, w.degrees);
    return w;
}

std::vector<double> holm_corrected(const std::vector<double>& p) {
    std::vector<std::size_t> order(p.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::sort(order.begin(), order.end(), [&](std::size_t i, std::size_t k) { return p[i] < p[k]; });
    std::vector<double> corrected(p.size());
    double least = 0;  // a larger p never gets a smaller correction
    for (std::size_t rank = 0; rank < order.size(); ++rank) {
        const double here = static_cast<double>(p.size() - rank) * p[order[rank]];
        least = std::min(1.0, std::max(least, here));
        corrected[order[rank]] = least;
    }
    return corrected;
}

}  // namespace evenstroke::signal
