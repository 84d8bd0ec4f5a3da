# glintline_room(NAME SOURCES ... USES ROOM... LIBRARIES TARGET...)
#
# One static library a room, `glintline_NAME`. USES names the rooms it may include (the arrows of DEVELOPERS.md);
# LIBRARIES the outside libraries it owns. A room without sources is an interface library.
add_library(glintline_warnings INTERFACE)
target_compile_options(glintline_warnings INTERFACE -Wall -Wextra -Werror)
if(GLINTLINE_SANITIZE)
  target_compile_options(glintline_warnings INTERFACE -fsanitize=address,undefined -fno-sanitize-recover=all
                         -fno-omit-frame-pointer)
  target_link_options(glintline_warnings INTERFACE -fsanitize=address,undefined)
  # Eigen places its memory otherwise under the sanitizer, but Debian's static Ceres, whose copies of Eigen's functions
  # the linker may take for ours, was built without.
  target_compile_definitions(glintline_warnings INTERFACE EIGEN_MALLOC_ALREADY_ALIGNED=1)
endif()

function(glintline_room name)
  cmake_parse_arguments(ROOM "" "" "SOURCES;USES;LIBRARIES" ${ARGN})
  list(TRANSFORM ROOM_USES PREPEND glintline_)
  if(ROOM_SOURCES)
    add_library(glintline_${name} STATIC ${ROOM_SOURCES})
    set(scope PUBLIC)
  else()
    add_library(glintline_${name} INTERFACE)
    set(scope INTERFACE)
  endif()
  target_include_directories(glintline_${name} ${scope} ${PROJECT_SOURCE_DIR}/src)
  target_link_libraries(glintline_${name} ${scope} glintline_warnings ${ROOM_USES} ${ROOM_LIBRARIES})
endfunction()

# Headers of libraries are system headers, so that -Werror judges only our own code.
function(glintline_system_library name)
  cmake_parse_arguments(LIB "" "" "INCLUDES;LINKS" ${ARGN})
  add_library(${name} INTERFACE)
  target_include_directories(${name} SYSTEM INTERFACE ${LIB_INCLUDES})
  target_link_libraries(${name} INTERFACE ${LIB_LINKS})
endfunction()

glintline_system_library(glintline_opencv INCLUDES ${OpenCV_INCLUDE_DIRS}
                         LINKS opencv_core opencv_imgproc opencv_calib3d opencv_aruco)

# Debian's package has no CMake files of its own.
find_path(SOCI_INCLUDE_DIR soci/soci.h REQUIRED)
find_library(SOCI_CORE soci_core REQUIRED)
find_library(SOCI_SQLITE soci_sqlite3 REQUIRED)
find_library(SOCI_POSTGRESQL soci_postgresql REQUIRED)
find_path(SQLITE_INCLUDE_DIR sqlite3.h REQUIRED)
find_path(LIBPQ_INCLUDE_DIR libpq-fe.h PATH_SUFFIXES postgresql REQUIRED)
glintline_system_library(glintline_soci INCLUDES ${SOCI_INCLUDE_DIR} ${SQLITE_INCLUDE_DIR} ${LIBPQ_INCLUDE_DIR}
                         LINKS ${SOCI_SQLITE} ${SOCI_POSTGRESQL} ${SOCI_CORE})

# glintline_test(ROOM SOURCES ... LIBRARIES ...): one test program a room, `test_ROOM`, found by ctest case by case.
function(glintline_test name)
  cmake_parse_arguments(T "" "" "SOURCES;LIBRARIES" ${ARGN})
  add_executable(test_${name} ${T_SOURCES})
  target_include_directories(test_${name} PRIVATE ${PROJECT_SOURCE_DIR}/src ${PROJECT_SOURCE_DIR}/tests)
  target_compile_definitions(test_${name} PRIVATE GLINTLINE_SOURCE_DIR="${PROJECT_SOURCE_DIR}")
  # The tests' own code runs for moments and compiles for minutes; what they test keeps the build type's optimisation.
  target_compile_options(test_${name} PRIVATE -O1)
  target_precompile_headers(test_${name} REUSE_FROM glintline_test_headers)
  target_link_libraries(test_${name} PRIVATE glintline_warnings ${T_LIBRARIES} GTest::gtest GTest::gmock GTest::gtest_main)
  gtest_discover_tests(test_${name} DISCOVERY_TIMEOUT 60 PROPERTIES TIMEOUT 600)
endfunction()
