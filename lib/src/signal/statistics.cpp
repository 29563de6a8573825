#include "statistics.hpp"

#include <algorithm>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cassert>
#include <cmath>
#include <numeric>

namespace evenstroke::signal {

double student_t_quantile(double probability, double degrees) {
    return boost::math::quantile(boost::math::students_t(degrees), probability);
}

double fisher_f_quantile(double probability, double degrees_between, double degrees_within) {
    return boost::math::quantile(boost::math::fisher_f(degrees_between, degrees_within), probability);
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
    assert(!values.empty());
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    if (values.size() % 2 == 1) return *middle;
    return (*middle + *std::max_element(values.begin(), middle)) / 2;
}

}  // namespace evenstroke::signal
