#include "evenstroke/read.hpp"

namespace evenstroke {
Recording read(const std::string& path, const ReadOptions&) {
    throw Error(ErrorCode::unsupported, path, "not written yet", "");
}
Recording read_text(std::istream&, const std::string& name, const ReadOptions&) {
    throw Error(ErrorCode::unsupported, name, "not written yet", "");
}
}  // namespace evenstroke
