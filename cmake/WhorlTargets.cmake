# Compile options every whorl target shares. Third-party headers come in as SYSTEM and are exempt.
add_library(whorl_options INTERFACE)
target_compile_options(whorl_options INTERFACE
  -Wall -Wextra -Wpedantic -Wconversion -Wsign-conversion -Wshadow)
# GCC 12 reports overlap in "literal" + std::string where there is none (GCC bug 105651, fixed in 13).
target_compile_options(whorl_options INTERFACE
  $<$<AND:$<CXX_COMPILER_ID:GNU>,$<VERSION_LESS:$<CXX_COMPILER_VERSION>,13>>:-Wno-restrict>)
if(WHORL_WARNINGS_AS_ERRORS)
  target_compile_options(whorl_options INTERFACE -Werror)
endif()
if(WHORL_SANITIZE)
  target_compile_options(whorl_options INTERFACE -fsanitize=address,undefined -fno-sanitize-recover=undefined
    -fno-omit-frame-pointer)
  target_link_options(whorl_options INTERFACE -fsanitize=address,undefined)
endif()
if(WHORL_SANITIZE_THREAD)
  target_compile_options(whorl_options INTERFACE -fsanitize=thread -fno-omit-frame-pointer)
  target_link_options(whorl_options INTERFACE -fsanitize=thread)
endif()
if(WHORL_BUILD_FUZZ)
  if(NOT CMAKE_CXX_COMPILER_ID STREQUAL "Clang")
    message(FATAL_ERROR "WHORL_BUILD_FUZZ needs clang (-DCMAKE_CXX_COMPILER=clang++)")
  endif()
  target_compile_options(whorl_options INTERFACE -fsanitize=fuzzer-no-link,address,undefined -fno-sanitize-recover=undefined
    -fno-omit-frame-pointer)
  target_link_options(whorl_options INTERFACE -fsanitize=fuzzer-no-link,address,undefined)
endif()
if(WHORL_COVERAGE)
  target_compile_options(whorl_options INTERFACE --coverage -O0)
  target_link_options(whorl_options INTERFACE --coverage)
endif()
# No fused multiply-add: the same bytes from every compiler and thread count matter more than the last few per cent.
target_compile_options(whorl_options INTERFACE -ffp-contract=off)
# Nobody reads errno after a square root or a logarithm; results are the same.
target_compile_options(whorl_options INTERFACE -fno-math-errno)
# Sums in the order in which they are written, whatever the processor has; and quantiles in double, for "long double" is another
# type on every machine.
target_compile_definitions(whorl_options INTERFACE EIGEN_DONT_VECTORIZE BOOST_MATH_PROMOTE_DOUBLE_POLICY=false)

# Headers that every source of a layer would read anew, read once: src/precompiled/NAME.hpp. What has none of its own takes that of
# io, the engine that of jet: they are compiled alike. Only the optimised build uses them. With sanitizers, coverage, fuzzing and in debug builds (presets `dev` and `coverage`) every source reads its own
# includes, so that a missing one is found there; -DCMAKE_DISABLE_PRECOMPILE_HEADERS=ON does the same for any build.
set(WHORL_PRECOMPILE OFF)
if(CMAKE_BUILD_TYPE MATCHES "^Rel" AND NOT CMAKE_CROSSCOMPILING AND NOT WHORL_SANITIZE AND NOT WHORL_SANITIZE_THREAD
    AND NOT WHORL_COVERAGE AND NOT WHORL_BUILD_FUZZ)
  set(WHORL_PRECOMPILE ON)
endif()
function(whorl_precompile TARGET NAME)
  set(header ${PROJECT_SOURCE_DIR}/src/precompiled/${NAME}.hpp)
  if(NOT WHORL_PRECOMPILE)
    return()
  elseif(EXISTS ${header})
    target_precompile_headers(${TARGET} PRIVATE ${header})
  elseif(NAME STREQUAL "engine")
    target_precompile_headers(${TARGET} REUSE_FROM whorl_jet)
  else()
    target_precompile_headers(${TARGET} REUSE_FROM whorl_io)
  endif()
endfunction()

# whorl_together(TARGET GROUP FILES ...): with WHORL_TOGETHER the files of a group are compiled as one, which shares the work on headers
# and templates. In a group no two files may define the same name in their unnamed namespaces, not even with other arguments, nor may
# one bring in (using namespace) a function that another takes from an outer namespace: a call would then go elsewhere.
# The test `together` looks for functions of the same name. While you edit,
# leave it off: a change then rebuilds one file instead of a group.
function(whorl_together TARGET GROUP)
  if(WHORL_TOGETHER)
    set_target_properties(${TARGET} PROPERTIES UNITY_BUILD ON UNITY_BUILD_MODE GROUP)
    set_source_files_properties(${ARGN} TARGET_DIRECTORY ${TARGET} PROPERTIES UNITY_GROUP ${GROUP})
  endif()
endfunction()

# Code that reads, writes and words things spends no time worth optimising for; the compiler does.
set(WHORL_PLAIN_OPTIMISATION $<$<CONFIG:Release>:-O1>)

# Headers that are installed are included as whorl/ROOM/NAME.hpp, in here as by users of the library; the inner ones as ROOM/NAME.hpp.
set(WHORL_INCLUDE_DIR ${PROJECT_BINARY_DIR}/include)
file(MAKE_DIRECTORY ${WHORL_INCLUDE_DIR})
file(CREATE_LINK ${PROJECT_SOURCE_DIR}/src ${WHORL_INCLUDE_DIR}/whorl SYMBOLIC)

# whorl_layer(NAME SOURCES ... [HEADERS ...] [PUBLIC ...] [PRIVATE ...]): one static library per layer; fmt, which puts numbers
# into sentences, stands behind every one.
# HEADERS are the ones a user of the installed library may include; they must compile on their own against what the
# package config finds, which the test `install` checks. A layer without HEADERS is installed only to be linked.
function(whorl_layer NAME)
  cmake_parse_arguments(ARG "" "" "SOURCES;HEADERS;PUBLIC;PRIVATE" ${ARGN})
  add_library(whorl_${NAME} STATIC ${ARG_SOURCES})
  add_library(whorl::${NAME} ALIAS whorl_${NAME})
  target_include_directories(whorl_${NAME} PUBLIC $<BUILD_INTERFACE:${WHORL_INCLUDE_DIR}>
    PUBLIC $<BUILD_INTERFACE:${PROJECT_SOURCE_DIR}/src>)
  target_compile_features(whorl_${NAME} PUBLIC cxx_std_20)
  target_link_libraries(whorl_${NAME} PUBLIC ${ARG_PUBLIC} PRIVATE ${ARG_PRIVATE} fmt::fmt $<BUILD_INTERFACE:whorl_options>)
  set_target_properties(whorl_${NAME} PROPERTIES EXPORT_NAME ${NAME})
  if(NOT WHORL_BUILD_PAGE)
    whorl_take_elementary(whorl_${NAME})
  endif()
  if(NOT (WHORL_TOGETHER AND NAME MATCHES "^(model|solver)$"))  # there each header is read only once anyway
    whorl_precompile(whorl_${NAME} ${NAME})
  endif()
  if(ARG_HEADERS)
    list(TRANSFORM ARG_HEADERS PREPEND ${WHORL_INCLUDE_DIR}/whorl/${NAME}/)
    target_sources(whorl_${NAME} PUBLIC FILE_SET HEADERS BASE_DIRS ${WHORL_INCLUDE_DIR} FILES ${ARG_HEADERS})
  endif()
endfunction()

# whorl_install_layer(NAME): library and headers into the export set whorlTargets.
function(whorl_install_layer NAME)
  get_target_property(header_sets whorl_${NAME} HEADER_SETS)
  set(headers)
  if(header_sets)
    set(headers FILE_SET HEADERS DESTINATION ${WHORL_INSTALL_INCLUDEDIR} COMPONENT development)
  endif()
  install(TARGETS whorl_${NAME} EXPORT whorlTargets
    ARCHIVE DESTINATION ${CMAKE_INSTALL_LIBDIR} COMPONENT development
    ${headers})
endfunction()

# whorl_optional(TARGET OPTION TEXT SWITCH PREFIX MODULES PACKAGES WITHOUT): libraries that pkg-config knows and that the program
# can do without. OPTION (described by TEXT) is AUTO (when they are there), ON or OFF; with them TARGET is compiled with SWITCH
# defined, without them a line says what is missing (PACKAGES of Debian) and what then does not work (WITHOUT).
# The target PkgConfig::<PREFIX> then exists everywhere.
function(whorl_optional TARGET OPTION TEXT SWITCH PREFIX MODULES PACKAGES WITHOUT)
  set(${OPTION} AUTO CACHE STRING "${TEXT}: AUTO (when the libraries are there), ON or OFF")
  if(${OPTION} STREQUAL OFF)
    return()
  endif()
  find_package(PkgConfig QUIET)
  if(PkgConfig_FOUND)
    pkg_check_modules(${PREFIX} QUIET IMPORTED_TARGET GLOBAL ${MODULES})
  endif()
  string(REPLACE ";" ", " wanted "${MODULES}")
  if(TARGET PkgConfig::${PREFIX})
    target_link_libraries(${TARGET} PRIVATE PkgConfig::${PREFIX})
    target_compile_definitions(${TARGET} PRIVATE ${SWITCH})
  elseif(${OPTION} STREQUAL ON)
    message(FATAL_ERROR "${OPTION} is ON, but pkg-config does not find ${wanted} (packages ${PACKAGES})")
  else()
    message(STATUS "${wanted} not found (packages ${PACKAGES}): ${WITHOUT}")
  endif()
endfunction()
