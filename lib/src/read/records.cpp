#include "read/records.hpp"

#include <algorithm>
#include <cstring>
#include <utility>

#include "evenstroke/error.hpp"

namespace evenstroke::reading {

namespace {

/// Whether a cell that began with a quote is still open at the end of the lines seen so far. A quote
/// elsewhere in a cell is an ordinary character: an inch mark in a remark must not swallow the file.
class OpenQuote {
  public:
    /// The next line of the record, each looked at once: a quote that stays open may run through many.
    void see(std::string_view line) {
        if (!open_ && std::memchr(line.data(), '"', line.size()) == nullptr) return;
        for (std::size_t i = 0; i < line.size(); ++i) {
            const char c = line[i];
            if (open_) {
                if (c != '"') continue;
                if (i + 1 < line.size() && line[i + 1] == '"')
                    ++i;
                else
                    open_ = false;
            } else if (c == '"' && cell_start_) {
                open_ = true;
                cell_start_ = false;
            } else if (c == ',' || c == ';' || c == '\t') {
                cell_start_ = true;
            } else if (c != ' ') {
                cell_start_ = false;
            }
        }
    }
    [[nodiscard]] bool open() const { return open_; }

  private:
    bool cell_start_ = true;
    bool open_ = false;
};

}  // namespace

RecordReader::RecordReader(ByteSource& source, std::string name, char line_end, std::size_t piece_bytes)
    : source_(source), name_(std::move(name)), line_end_(line_end), piece_bytes_(piece_bytes) {}

bool RecordReader::fill() {
    if (at_end_) return false;
    if (begin_ > 0) {
        std::memmove(buffer_.data(), buffer_.data() + begin_, end_ - begin_);
        end_ -= begin_;
        begin_ = 0;
    }
    if (buffer_.size() < end_ + piece_bytes_) buffer_.resize(end_ + piece_bytes_);
    const std::size_t got = source_.read(std::span(buffer_).subspan(end_, piece_bytes_));
    end_ += got;
    at_end_ = got == 0;
    return got > 0;
}

void RecordReader::refuse_long(bool inside_quotes) const {
    const std::string place = name_ + ":" + std::to_string(line_);
    if (inside_quotes)
        throw Error(ErrorCode::malformed, place, "a quote opened in this line is never closed",
                    "close or remove the quote");
    throw Error(ErrorCode::malformed, place, "a line of more than 256 KiB",
                "this is not a table of samples with one row per line; export the capture as CSV");
}

std::optional<Record> RecordReader::next() {
    std::size_t searched = 0;    // bytes after begin_ that hold no line end which counts
    std::size_t line_begin = 0;  // of the line that is looked at, after begin_
    std::size_t lines = 0;
    OpenQuote quote;
    for (;;) {
        const char* start = buffer_.data() + begin_;
        const std::size_t held = end_ - begin_;
        const void* hit =
            held > searched ? std::memchr(start + searched, line_end_, held - searched) : nullptr;
        if (hit == nullptr) {
            if (held > max_record_bytes) refuse_long(quote.open());
            searched = held;
            if (fill()) continue;
            if (held == 0) return std::nullopt;
            if (quote.open()) refuse_long(true);
            // fill() may have moved the buffer even when nothing more came.
            const Record record{{buffer_.data() + begin_, held}, line_, false};
            begin_ = end_;
            return record;
        }
        auto length = static_cast<std::size_t>(static_cast<const char*>(hit) - start);
        ++lines;
        quote.see({start + line_begin, length - line_begin});
        if (length > max_record_bytes) refuse_long(quote.open());
        if (quote.open()) {
            searched = line_begin = length + 1;
            continue;
        }
        const std::size_t next_begin = begin_ + length + 1;
        while (line_end_ == '\n' && length > 0 && start[length - 1] == '\r') --length;
        const Record record{{start, length}, line_, true};
        begin_ = next_begin;
        line_ += lines;
        return record;
    }
}

char find_line_end(std::string_view text) {
    std::size_t alone = 0;
    std::size_t fed = 0;
    for (std::size_t i = 0; i + 1 < text.size(); ++i) {
        if (text[i] == '\n') ++fed;
        if (text[i] == '\r' && text[i + 1] != '\n' && text[i + 1] != '\r') ++alone;
    }
    return alone > fed ? '\r' : '\n';
}

}  // namespace evenstroke::reading
