#include "fft.hpp"

#include <kiss_fftr.h>

#include <algorithm>
#include <memory>
#include <numeric>

namespace evenstroke::signal {

namespace {

struct FreeConfig {
    void operator()(kiss_fftr_state* config) const { kiss_fftr_free(config); }
};
using Config = std::unique_ptr<kiss_fftr_state, FreeConfig>;

Config make_config(std::size_t length, bool inverse) {
    Config config(kiss_fftr_alloc(static_cast<int>(length), inverse ? 1 : 0, nullptr, nullptr));
    if (!config) throw std::bad_alloc();
    return config;
}

}  // namespace

std::size_t fast_length(std::size_t samples) {
    return static_cast<std::size_t>(
        kiss_fftr_next_fast_size_real(static_cast<int>(std::max<std::size_t>(samples, 2))));
}

std::vector<std::complex<float>> spectrum(std::span<const float> values, std::size_t length) {
    std::vector<float> padded(length, 0.0F);
    std::copy(values.begin(), values.end(), padded.begin());
    std::vector<std::complex<float>> bins(length / 2 + 1);
    // kiss_fft_cpx is two floats, real then imaginary: the layout std::complex<float> guarantees.
    kiss_fftr(make_config(length, false).get(), padded.data(), reinterpret_cast<kiss_fft_cpx*>(bins.data()));
    return bins;
}

std::vector<float> autocorrelation(std::span<const float> values) {
    if (values.size() < 2) return {};
    const double mean =
        std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
    std::vector<float> centred(values.size());
    std::transform(values.begin(), values.end(), centred.begin(),
                   [mean](float v) { return static_cast<float>(static_cast<double>(v) - mean); });
    const std::size_t length = fast_length(2 * values.size());  // twice as long: no wrap-around
    auto bins = spectrum(centred, length);
    for (auto& bin : bins) bin = {std::norm(bin), 0.0F};
    std::vector<float> lags(length);
    kiss_fftri(make_config(length, true).get(), reinterpret_cast<const kiss_fft_cpx*>(bins.data()),
               lags.data());
    if (!(lags[0] > 0)) return {};
    std::vector<float> result(values.size());
    const auto count = static_cast<float>(values.size());
    for (std::size_t lag = 0; lag < result.size(); ++lag)
        result[lag] = lags[lag] / lags[0] * (count / (count - static_cast<float>(lag)));
    return result;
}

}  // namespace evenstroke::signal
