// Real recordings, open data kept beside the project and not committed (../shared/data, see its SOURCE.txt
// files).
#include <doctest/doctest.h>

#include <cmath>
#include <filesystem>
#include <string>

#include "evenstroke/read.hpp"

using namespace evenstroke;

TEST_CASE("read: real crank-wheel recordings -> rows, channels and times of their SOURCE.txt") {
    const std::filesystem::path data = std::filesystem::path(EVENSTROKE_SOURCE_DIR) / "../shared/data";
    if (!std::filesystem::exists(data)) {
        MESSAGE("SKIPPED: ../shared/data is not here; the real recordings were not checked");
        return;
    }
    // PRINTED in the SOURCE.txt beside each file: first and last time, channels.
    const struct {
        const char* file;
        std::size_t channels;
        double start_s;
        double end_s;
    } lists[] = {{"fome-vw-aba-60-2-cranking/nick_1.csv", 8, 0, 7.0122},
                 {"fome-gm24x-v8-cranking/gm_24x_cranking.csv", 1, 47.598, 49.043},
                 {"fome-honda-k24-no-plugs/cranking_honda_k24a2_no_plugs.csv", 1, 55.88, 59.00},
                 {"fome-honda-k24-no-plugs/cranking_honda_k24a2_no_plugs_2.csv", 1, 16.09, 19.27},
                 {"fome-nissan-vq40-cranking/nissan_vq40_cranking-1.csv", 3, 0, 3.264},
                 {"fome-nissan-vq40-cranking/nissan_vq40_cranking-2.csv", 3, 0, 3.873},
                 {"fome-nb2-miata-cranking/nb2-cranking-good.csv", 2, 0, 9.830},
                 {"fome-nb2-miata-cranking/nb2-cranking-good-missing-injector-1.csv", 2, 0, 7.555},
                 {"fome-4g93-na-civic-cranking/4g93-cranking.csv", 2, 0, 10.486},
                 {"fome-4g93-na-civic-cranking/civic-K20-cranking.csv", 3, 0, 5.017}};
    for (const auto& list : lists) {
        CAPTURE(std::string(list.file));
        const Recording r = read((data / list.file).string());
        CHECK(r.rate_hz == 0);
        CHECK(r.channels.size() == list.channels);
        CHECK(r.channels[0].edges.size() > 50);
        CHECK(std::abs(r.start_s - list.start_s) < 0.005);  // the source prints two decimals
        CHECK(std::abs(r.start_s + r.duration_s - list.end_s) < 0.005);
    }
    for (const char* file :
         {"fome-60-2-analog-vr/trigger_adc_real1.csv", "fome-60-2-analog-vr/trigger_adc_real2.csv"}) {
        const Recording r = read((data / file).string());
        CHECK(r.rate_hz == 10000);
        CHECK(r.channels[0].values.size() == 60000);
        CHECK(r.channels[0].name == "crank");
        CHECK(r.notices.empty());
    }
}
