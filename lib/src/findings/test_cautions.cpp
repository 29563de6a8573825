#include "test_cautions.hpp"

#include <algorithm>

namespace evenstroke::findings {

namespace {

struct Caution {
    const char* code;  ///< empty: always
    const char* says;
};

constexpr Caution table[] = {
    {"fuel", "Disable fuel and ignition as the maker says before cranking; on a diesel, the injection."},
    {"plugs-out",
     "With plugs or injectors out, fuel sprays from the open holes (after a wet test, oil too) and a spark "
     "can light it: keep leads, faces and flames away, and let nothing fall in."},
    {"air-pressure",
     "Air pressure in a cylinder can spin the crank: leave no tool on it, keep hands clear of belts and fan, "
     "raise the pressure slowly."},
    {"crank",
     "Gearbox in neutral or park, parking brake on; hands, hair and leads clear of belts, fans and pulleys, "
     "which may start by themselves. Rest the starter: no more than 15 s of cranking, then 20 s of rest, "
     "unless the maker says less."},
    {"battery",
     "A battery gives off explosive gas: no sparks or flames near it, and connect leads with all loads off."},
    {"running", "A running engine: keep clear of belts and fans, and lead the exhaust gas outside."},
    {"hot-oil", "Hot oil under pressure burns: connect the gauge with the engine off, and check for leaks."},
    {"coolant", "Never open a hot cooling system: it is under pressure and scalds."},
    {"hot", "A warm engine burns: exhaust, plugs, oil and coolant stay hot long after it stops."},
    {"no-oil", "Stop the engine at once when oil pressure is missing or it begins to knock or rattle."},
    {"",
     "Hybrids and electrified engines carry high voltage and may crank by themselves: only trained "
     "people, by the maker's procedure."},
    {"", "The maker's procedure and a licensed technician's judgement take precedence over this report."},
};

}  // namespace

std::vector<std::string> test_cautions(const std::vector<std::string>& codes) {
    std::vector<std::string> texts;
    for (const Caution& caution : table) {
        const std::string code = caution.code;
        if (code.empty() || std::find(codes.begin(), codes.end(), code) != codes.end())
            texts.emplace_back(caution.says);
    }
    return texts;
}

}  // namespace evenstroke::findings
