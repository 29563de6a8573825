#include "values/scaled.hpp"

#include <fmt/core.h>

#include <cmath>
#include <limits>

#include "evenstroke/error.hpp"

namespace evenstroke {

std::vector<float> scaled(std::span<const float> values, double factor, double offset,
                          const std::string& place, const std::string& remedy) {
    constexpr double most = std::numeric_limits<float>::max();
    std::vector<float> all;
    all.reserve(values.size());
    for (const float v : values) {
        const double value = static_cast<double>(v) * factor + offset;
        if (std::abs(value) > most)
            throw Error(ErrorCode::bad_option, place,
                        fmt::format("a recorded value of {:g} becomes too large to work with", v), remedy);
        all.push_back(static_cast<float>(value));
    }
    return all;
}

}  // namespace evenstroke
