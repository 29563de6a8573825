#include "rule_context.hpp"

#include <fmt/core.h>

#include <algorithm>

namespace evenstroke::findings {

namespace {

/// Index of the extreme known contribution; `better(a, b)` says that a is more extreme.
template <class Better>
std::optional<std::size_t> extreme(const std::vector<CylinderContribution>& cylinders, Better better) {
    std::optional<std::size_t> found;
    for (std::size_t i = 0; i < cylinders.size(); ++i) {
        const auto& value = cylinders[i].contribution_pct;
        if (value && (!found || better(*value, *cylinders[*found].contribution_pct))) found = i;
    }
    return found;
}

}  // namespace

std::vector<std::size_t> RuleContext::with(Verdict verdict) const {
    std::vector<std::size_t> positions;
    for (std::size_t i = 0; i < verdicts.size(); ++i)
        if (verdicts[i] == verdict) positions.push_back(i);
    return positions;
}

std::vector<std::size_t> RuleContext::maybe_weak() const {
    auto positions = with(Verdict::low);
    std::erase_if(positions, [this](std::size_t i) {
        return contribution.cylinders[i].low_pct.value_or(0) >= options.weak_below_pct;
    });
    return positions;
}

std::optional<std::size_t> RuleContext::highest() const {
    return extreme(contribution.cylinders, [](double a, double b) { return a > b; });
}

std::optional<std::size_t> RuleContext::lowest() const {
    return extreme(contribution.cylinders, [](double a, double b) { return a < b; });
}

std::string measured(const CylinderContribution& cylinder) {
    if (!cylinder.contribution_pct) return "not measured";
    if (!cylinder.low_pct || !cylinder.high_pct)
        return fmt::format("{:.0f} % of the highest, error not known", *cylinder.contribution_pct);
    return fmt::format("{:.0f} % of the highest ({:.0f} to {:.0f} %)", *cylinder.contribution_pct,
                       *cylinder.low_pct, *cylinder.high_pct);
}

std::string list(const RuleContext& c, const std::vector<std::size_t>& positions) {
    const auto plain = [&c](std::size_t position) {
        const auto& label = c.names[position].label;
        return label.substr(label.find(' ') + 1);
    };
    if (positions.size() == 1) return c.names[positions.front()].label;
    const auto& first = c.names[positions.front()].label;
    std::string text = first.substr(0, first.find(' ')) + "s ";
    const char* last_joint = first.find(" or ") == std::string::npos ? " and " : ", and ";
    for (std::size_t i = 0; i < positions.size(); ++i) {
        if (i > 0) text += i + 1 == positions.size() ? last_joint : ", ";
        text += plain(positions[i]);
    }
    return text;
}

}  // namespace evenstroke::findings
