#include "report/jpeg.h"

#include <jpeglib.h>

#include <csetjmp>
#include <cstdio>
#include <cstdlib>

namespace glintline {
namespace {

struct Failure {
  jpeg_error_mgr manager;
  std::jmp_buf back;
  char message[JMSG_LENGTH_MAX];
};

void leave(j_common_ptr info) {
  auto* failure = reinterpret_cast<Failure*>(info->err);
  info->err->format_message(info, failure->message);
  std::longjmp(failure->back, 1);
}

/// Everything that libjpeg's long jump may cross: no object with a destructor lives in here.
bool compress(const unsigned char* first_row, std::size_t stride, JDIMENSION width, JDIMENSION height, int quality,
              Failure* failure, unsigned char** bytes, unsigned long* size) {
  jpeg_compress_struct info;
  info.err = jpeg_std_error(&failure->manager);
  failure->manager.error_exit = leave;
  if (setjmp(failure->back) != 0) {
    jpeg_destroy_compress(&info);
    return false;
  }
  jpeg_create_compress(&info);
  jpeg_mem_dest(&info, bytes, size);
  info.image_width = width;
  info.image_height = height;
  info.input_components = 4;
  info.in_color_space = JCS_EXT_BGRX;
  jpeg_set_defaults(&info);
  jpeg_set_quality(&info, quality, TRUE);
  jpeg_start_compress(&info, TRUE);
  while (info.next_scanline < info.image_height) {
    auto* row = const_cast<JSAMPROW>(first_row + stride * info.next_scanline);
    jpeg_write_scanlines(&info, &row, 1);
  }
  jpeg_finish_compress(&info);
  jpeg_destroy_compress(&info);
  return true;
}

}  // namespace

Result<std::string> jpeg_bytes(const cv::Mat& bgrx, int quality) {
  Failure failure{};
  unsigned char* bytes = nullptr;
  unsigned long size = 0;
  const bool done = compress(bgrx.data, bgrx.step, static_cast<JDIMENSION>(bgrx.cols),
                             static_cast<JDIMENSION>(bgrx.rows), quality, &failure, &bytes, &size);
  std::string file = done ? std::string(reinterpret_cast<const char*>(bytes), size) : std::string();
  std::free(bytes);
  if (!done) return Error{Fault::kCannotWrite, std::string("the picture cannot be packed: ") + failure.message, ""};
  return file;
}

}  // namespace glintline
