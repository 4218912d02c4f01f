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
if(WHORL_COVERAGE)
  target_compile_options(whorl_options INTERFACE --coverage -O0)
  target_link_options(whorl_options INTERFACE --coverage)
endif()
# No fused multiply-add: the same bytes from every compiler and thread count matter more than the last few per cent.
target_compile_options(whorl_options INTERFACE -ffp-contract=off)

# whorl_layer(NAME SOURCES ... DEPENDS ...): one static library per layer.
function(whorl_layer NAME)
  cmake_parse_arguments(ARG "" "" "SOURCES;PUBLIC;PRIVATE" ${ARGN})
  add_library(whorl_${NAME} STATIC ${ARG_SOURCES})
  add_library(whorl::${NAME} ALIAS whorl_${NAME})
  target_include_directories(whorl_${NAME} PUBLIC
    $<BUILD_INTERFACE:${PROJECT_SOURCE_DIR}/src>
    $<INSTALL_INTERFACE:${CMAKE_INSTALL_INCLUDEDIR}/whorl>)
  target_compile_features(whorl_${NAME} PUBLIC cxx_std_20)
  target_link_libraries(whorl_${NAME} PUBLIC ${ARG_PUBLIC} PRIVATE ${ARG_PRIVATE} $<BUILD_INTERFACE:whorl_options>)
  set_target_properties(whorl_${NAME} PROPERTIES EXPORT_NAME ${NAME})
endfunction()
