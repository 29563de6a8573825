#include "text_file.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>

#include "evenstroke/error.hpp"

namespace evenstroke::cli {

namespace {

/// A case of thousands of recordings is smaller.
constexpr std::size_t most_bytes = std::size_t{1} << 28;

[[noreturn]] void cannot_open(const std::string& path, int reason) {
    throw Error(ErrorCode::cannot_open, path, std::string("cannot be read (") + std::strerror(reason) + ")",
                reason == EISDIR ? "give a file, not a folder" : "check the name and its permissions");
}

}  // namespace

std::string read_text_file(const std::string& path) {
    const bool is_stdin = path == "-";
    const int file = is_stdin ? STDIN_FILENO : open(path.c_str(), O_RDONLY | O_CLOEXEC);
    if (file < 0) cannot_open(path, errno);
    std::string text;
    std::array<char, 65536> piece{};
    int reason = 0;
    while (text.size() <= most_bytes) {
        const ssize_t got = ::read(file, piece.data(), piece.size());
        if (got < 0 && errno == EINTR) continue;
        if (got < 0) reason = errno;
        if (got <= 0) break;
        text.append(piece.data(), static_cast<std::size_t>(got));
    }
    if (!is_stdin) close(file);
    if (reason != 0) cannot_open(path, reason);
    if (text.size() > most_bytes)
        throw Error(ErrorCode::unsupported, path, "is larger than 256 MB",
                    "give a list, a worksheet or a case file");
    return text;
}

}  // namespace evenstroke::cli
