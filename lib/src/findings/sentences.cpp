#include "sentences.hpp"

#include <cctype>
#include <utility>

namespace evenstroke::findings {

namespace {

std::string ended(std::string text) {
    if (!text.empty() && text.find_last_of(".?!") == text.size() - 1) return text;
    return text + ".";
}

/// As it goes on after a colon: its first letter in lower case, unless an abbreviation begins there.
std::string clause(std::string text) {
    const auto upper = [&text](std::size_t at) {
        return at < text.size() && text[at] >= 'A' && text[at] <= 'Z';
    };
    if (upper(0) && !upper(1)) text[0] = static_cast<char>(text[0] - 'A' + 'a');
    return text;
}

}  // namespace

std::string capitalised(std::string text) {
    if (!text.empty()) text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
    return text;
}

std::string whole_sentence(std::string text) {
    return ended(capitalised(std::move(text)));
}

void leave_open(Judgement& judgement, std::string reason, const char* opening) {
    judgement.no_verdict = ended(clause(std::move(reason)));
    judgement.headline = opening + *judgement.no_verdict;
}

}  // namespace evenstroke::findings
