#include "read/bytes.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <istream>
#include <utility>

#include "evenstroke/error.hpp"

namespace evenstroke::reading {

namespace {

constexpr std::size_t utf16_piece_bytes = 1 << 16;

[[noreturn]] void refuse_open(const std::string& path, int reason) {
    const std::string what = std::strerror(reason);
    if (reason == ENOENT)
        throw Error(ErrorCode::cannot_open, path, "there is no such file",
                    "check the name and the folder; \"-\" reads standard input");
    if (reason == EACCES)
        throw Error(ErrorCode::cannot_open, path, "you may not read this file",
                    "ask its owner for permission, or copy it to where you may read it");
    throw Error(ErrorCode::cannot_open, path, "it cannot be opened: " + what, "check the path");
}

[[noreturn]] void refuse_folder(const std::string& path) {
    throw Error(ErrorCode::cannot_open, path, "this is a folder, not a recording",
                "name one file in it; the batch command takes a whole folder");
}

}  // namespace

FileBytes::FileBytes(const std::string& path) : path_(path) {
    descriptor_ = path == "-" ? ::dup(STDIN_FILENO) : ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    if (descriptor_ < 0) refuse_open(path, errno);
    struct stat status {};
    if (::fstat(descriptor_, &status) != 0) {
        const int reason = errno;
        ::close(descriptor_);
        refuse_open(path, reason);
    }
    if (S_ISDIR(status.st_mode)) {
        ::close(descriptor_);
        refuse_folder(path);
    }
    regular_ = S_ISREG(status.st_mode);
}

FileBytes::~FileBytes() {
    if (descriptor_ >= 0) ::close(descriptor_);
}

std::size_t FileBytes::read(std::span<char> into) {
    for (;;) {
        const ssize_t got = ::read(descriptor_, into.data(), into.size());
        if (got >= 0) return static_cast<std::size_t>(got);
        if (errno == EINTR) continue;
        throw Error(ErrorCode::cannot_open, path_, std::string("reading stopped: ") + std::strerror(errno),
                    "copy the file to a sound disk and try again");
    }
}

StreamBytes::StreamBytes(std::istream& stream, std::string name) : stream_(stream), name_(std::move(name)) {}

std::size_t StreamBytes::read(std::span<char> into) {
    if (!stream_) return 0;
    stream_.read(into.data(), static_cast<std::streamsize>(into.size()));
    if (stream_.bad())
        throw Error(ErrorCode::cannot_open, name_, "reading stopped before the end",
                    "copy the file to a sound disk and try again");
    return static_cast<std::size_t>(stream_.gcount());
}

PrefixedBytes::PrefixedBytes(std::span<const char> prefix, ByteSource* rest) : prefix_(prefix), rest_(rest) {}

std::size_t PrefixedBytes::read(std::span<char> into) {
    if (prefix_.empty()) return rest_ != nullptr ? rest_->read(into) : 0;
    const std::size_t count = std::min(prefix_.size(), into.size());
    std::copy_n(prefix_.begin(), count, into.begin());
    prefix_ = prefix_.subspan(count);
    return count;
}

Utf16Bytes::Utf16Bytes(ByteSource& inner, bool big_endian) : inner_(inner), big_endian_(big_endian) {}

bool Utf16Bytes::next_unit(unsigned& unit) {
    while (in_.size() - in_at_ < 2) {
        in_.erase(0, in_at_);
        in_at_ = 0;
        const std::size_t held = in_.size();
        in_.resize(held + utf16_piece_bytes);
        const std::size_t got = inner_.read(std::span(in_).subspan(held));
        in_.resize(held + got);
        if (got == 0) return false;
    }
    const auto first = static_cast<unsigned char>(in_[in_at_]);
    const auto second = static_cast<unsigned char>(in_[in_at_ + 1]);
    in_at_ += 2;
    unit = big_endian_ ? (static_cast<unsigned>(first) << 8U) | second
                       : (static_cast<unsigned>(second) << 8U) | first;
    return true;
}

void Utf16Bytes::append_next_character() {
    constexpr unsigned replacement = 0xFFFD;
    unsigned unit = 0;
    if (!next_unit(unit)) {
        at_end_ = true;
        return;
    }
    const bool high = unit >= 0xD800 && unit < 0xDC00;
    unsigned low = 0;
    if (!high)
        append_utf8(out_, unit >= 0xDC00 && unit < 0xE000 ? replacement : unit);
    else if (next_unit(low) && low >= 0xDC00 && low < 0xE000)
        append_utf8(out_, 0x10000 + ((unit - 0xD800) << 10U) + (low - 0xDC00));
    else
        append_utf8(out_, replacement);
}

std::size_t Utf16Bytes::read(std::span<char> into) {
    while (!at_end_ && out_.size() < into.size()) append_next_character();
    const std::size_t count = std::min(out_.size(), into.size());
    std::copy_n(out_.begin(), count, into.begin());
    out_.erase(0, count);
    return count;
}

std::string read_up_to(ByteSource& source, std::size_t bytes) {
    std::string text(bytes, '\0');
    std::size_t held = 0;
    while (held < bytes) {
        const std::size_t got = source.read(std::span(text).subspan(held));
        if (got == 0) break;
        held += got;
    }
    text.resize(held);
    return text;
}

void append_utf8(std::string& text, unsigned code_point) {
    const auto put = [&text](unsigned byte) { text.push_back(static_cast<char>(byte)); };
    if (code_point < 0x80) {
        put(code_point);
    } else if (code_point < 0x800) {
        put(0xC0U | (code_point >> 6U));
        put(0x80U | (code_point & 0x3FU));
    } else if (code_point < 0x10000) {
        put(0xE0U | (code_point >> 12U));
        put(0x80U | ((code_point >> 6U) & 0x3FU));
        put(0x80U | (code_point & 0x3FU));
    } else {
        put(0xF0U | (code_point >> 18U));
        put(0x80U | ((code_point >> 12U) & 0x3FU));
        put(0x80U | ((code_point >> 6U) & 0x3FU));
        put(0x80U | (code_point & 0x3FU));
    }
}

}  // namespace evenstroke::reading
