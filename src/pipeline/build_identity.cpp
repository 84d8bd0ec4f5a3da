#include "pipeline/build_identity.h"

#include <elf.h>
#include <link.h>

#include <cstring>

#include "read/file_bytes.h"

namespace glintline {
namespace {

struct Found {
  bool program = false;
  std::string ids;
};

/// Notes are header, name, description, the last two padded to 4 bytes (System V ABI, "Note Section").
std::size_t padded(std::size_t bytes) { return (bytes + 3) / 4 * 4; }

/// The build id among the notes; empty where there is none.
std::string id_in(const char* notes, std::size_t size) {
  for (std::size_t at = 0; at + sizeof(ElfW(Nhdr)) <= size;) {
    ElfW(Nhdr) note;
    std::memcpy(&note, notes + at, sizeof note);
    const std::size_t name = at + sizeof note;
    const std::size_t text = name + padded(note.n_namesz);
    if (text + note.n_descsz > size) break;
    const bool by_gnu = note.n_namesz == sizeof ELF_NOTE_GNU && std::memcmp(notes + name, ELF_NOTE_GNU, 4) == 0;
    if (by_gnu && note.n_type == NT_GNU_BUILD_ID) return {notes + text, note.n_descsz};
    at = text + padded(note.n_descsz);
  }
  return "";
}

/// The program itself comes first and has no name; the kernel's own object, which changes with the kernel and measures
/// nothing, has one without a folder.
int look_at(dl_phdr_info* object, std::size_t, void* into) {
  Found& found = *static_cast<Found*>(into);
  const bool is_program = *object->dlpi_name == '\0';
  if (!is_program && std::strchr(object->dlpi_name, '/') == nullptr) return 0;
  for (int i = 0; i < object->dlpi_phnum; ++i) {
    const ElfW(Phdr)& part = object->dlpi_phdr[i];
    if (part.p_type != PT_NOTE) continue;
    const std::string id = id_in(reinterpret_cast<const char*>(object->dlpi_addr + part.p_vaddr), part.p_memsz);
    if (id.empty()) continue;
    found.program = found.program || is_program;
    found.ids += id;
  }
  return 0;
}

std::string looked_up() {
  Found found;
  dl_iterate_phdr(look_at, &found);
  if (!found.program) return "";
  return sha256_hex({reinterpret_cast<const std::uint8_t*>(found.ids.data()), found.ids.size()});
}

}  // namespace

const std::string& build_identity() {
  static const std::string identity = looked_up();
  return identity;
}

}  // namespace glintline
