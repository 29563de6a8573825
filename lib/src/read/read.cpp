#include "evenstroke/read.hpp"

#include <unistd.h>

#include <string_view>

#include "read/audio.hpp"
#include "read/bytes.hpp"
#include "read/finish.hpp"
#include "read/text.hpp"

namespace evenstroke {

namespace {

void refuse_packed(std::string_view first_bytes, const std::string& name) {
    const bool zip = first_bytes.starts_with("PK\x03\x04");
    const bool gzip = first_bytes.starts_with("\x1F\x8B");
    // A compound file, in which spreadsheets were kept before they were packed folders (MS-CFB, 2.2).
    const bool compound = first_bytes.starts_with("\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1");
    if (zip || gzip || compound)
        throw Error(ErrorCode::unsupported, name, "this is a packed file or a spreadsheet, not text or audio",
                    "unpack it, or save the sheet as CSV, and name that file");
}

}  // namespace

Recording read(const std::string& path, const ReadOptions& options) {
    using namespace reading;
    check(options);
    FileBytes file(path);
    constexpr std::size_t signature_bytes = 16;
    const std::string first = read_up_to(file, signature_bytes);
    refuse_packed(first, path);
    PrefixedBytes all(first, &file);
    if (!is_audio(first)) return read_table(all, path, options);
    // Redirected input may begin inside a file: only one that begins at its start can be sought in.
    const bool from_start =
        file.regular() && ::lseek(file.descriptor(), 0, SEEK_CUR) == static_cast<off_t>(first.size());
    return from_start ? read_audio(file, path, options) : read_audio_pipe(all, path, options);
}

Recording read_text(std::istream& stream, const std::string& name, const ReadOptions& options) {
    reading::check(options);
    reading::StreamBytes source(stream, name);
    return reading::read_table(source, name, options);
}

}  // namespace evenstroke
