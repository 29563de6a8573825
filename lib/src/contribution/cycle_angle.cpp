#include "cycle_angle.hpp"

#include <algorithm>
#include <cmath>

#include "evenstroke/engine.hpp"

namespace evenstroke::contribution {

namespace {

double share_of(const Eigen::ArrayXd& nodes, Eigen::Index k) {
    return k < nodes.size() ? nodes[k] : 1.0;
}

}  // namespace

double CycleAngle::share(double degrees) const {
    const double cycles = degrees / cycle_deg;
    const double whole = std::floor(cycles);
    const double node = (cycles - whole) * static_cast<double>(node_share.size());
    const auto low = std::min(static_cast<Eigen::Index>(node), node_share.size() - 1);
    const double part = node - static_cast<double>(low);
    return whole + share_of(node_share, low) * (1 - part) + share_of(node_share, low + 1) * part;
}

double CycleAngle::degrees(double phase) const {
    const double whole = std::floor(phase);
    const double within = phase - whole;
    const auto* begin = node_share.data();
    const auto above = std::upper_bound(begin, begin + node_share.size(), within);
    const auto low = std::max<Eigen::Index>(0, above - begin - 1);
    const double from = share_of(node_share, low);
    const double width = share_of(node_share, low + 1) - from;
    const double part = width > 0 ? (within - from) / width : 0.0;
    return (whole + (static_cast<double>(low) + part) / static_cast<double>(node_share.size())) * cycle_deg;
}

}  // namespace evenstroke::contribution
