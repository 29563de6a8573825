#include "spread.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <atomic>
#include <thread>

namespace accuracy {

double quantile(std::vector<double> values, double share) {
    std::sort(values.begin(), values.end());
    return values[std::min(values.size() - 1,
                           static_cast<std::size_t>(share * static_cast<double>(values.size())))];
}

std::string spread(const std::vector<double>& values) {
    if (values.empty()) return "n/a";
    double sum = 0;
    for (const double v : values) sum += v;
    return fmt::format("{:.2f} / {:.1f} / {:.1f}", sum / static_cast<double>(values.size()),
                       quantile(values, 0.95), *std::max_element(values.begin(), values.end()));
}

void in_parallel(std::size_t count, const std::function<void(std::size_t)>& one) {
    std::atomic<std::size_t> next{0};
    std::vector<std::thread> workers;
    for (unsigned k = 0; k < std::max(1U, std::thread::hardware_concurrency()); ++k)
        workers.emplace_back([&] {
            for (std::size_t i = next++; i < count; i = next++) one(i);
        });
    for (std::thread& worker : workers) worker.join();
}

}  // namespace accuracy
