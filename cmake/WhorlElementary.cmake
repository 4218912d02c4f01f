# exp, log, pow, sin and their like, the same to the last bit wherever the program runs: taken from musl's static C library
# (Debian's package musl-dev), which Emscripten has too. The C library of the machine chooses other code for other
# processors, and rounds the last bit of some results another way; step sizes and rounds then carry that to digits that show.
#
# A few members of musl's archive become one object whose functions are called whorl_exp, whorl_log ...; what else they hold stays
# hidden. Every static library of ours holds it, and its calls of exp are renamed after compiling. Shared libraries, and
# programs that use the library, keep their own. WHORL_WITH_ELEMENTARY says whether it is so; the test `elementary` holds it.
set(WHORL_ELEMENTARY AUTO CACHE STRING "Elementary functions from musl, for the same digits on every processor: AUTO (when there), ON or OFF")
set(WHORL_WITH_ELEMENTARY OFF)
set(elementary_names acos acosh asin asinh atan atan2 atanh cbrt cos cosh erf erfc exp exp2 expm1 hypot log log10 log1p log2
  pow sin sincos sinh tan tanh tgamma)
# Members: the functions (erfc is beside erf), and what they call.
set(elementary_members ${elementary_names} __cos __expo2 __math_divzero __math_invalid __math_oflow __math_uflow __math_xflow
  __rem_pio2 __rem_pio2_large __sin __tan exp_data log2_data log_data pow_data)
list(REMOVE_ITEM elementary_members erfc)

find_file(WHORL_MUSL_ARCHIVE libc.a PATHS /usr/lib/x86_64-linux-musl NO_DEFAULT_PATH)
mark_as_advanced(WHORL_MUSL_ARCHIVE)
set(elementary_missing "")
if(WHORL_ELEMENTARY STREQUAL OFF)
  set(elementary_missing "WHORL_ELEMENTARY is OFF")
elseif(NOT CMAKE_SYSTEM_PROCESSOR MATCHES "^(x86_64|AMD64)$" OR NOT CMAKE_SYSTEM_NAME STREQUAL "Linux")
  set(elementary_missing "they are held against those of the page on Linux with x86-64 only")
elseif(NOT WHORL_MUSL_ARCHIVE)
  set(elementary_missing "musl's libc.a is not found (package musl-dev)")
elseif(NOT CMAKE_OBJCOPY OR NOT CMAKE_LINKER)
  set(elementary_missing "there is no objcopy or no ld (package binutils)")
endif()

if(NOT elementary_missing)
  set(elementary_folder ${PROJECT_BINARY_DIR}/elementary)
  file(REMOVE_RECURSE ${elementary_folder}/members)
  file(MAKE_DIRECTORY ${elementary_folder}/members)
  execute_process(COMMAND ${CMAKE_AR} t ${WHORL_MUSL_ARCHIVE} OUTPUT_VARIABLE elementary_there)
  string(REGEX REPLACE "[ \r\n]+" ";" elementary_there "${elementary_there}")
  set(elementary_files "")
  foreach(member ${elementary_members})
    if(${member}.lo IN_LIST elementary_there)
      list(APPEND elementary_files ${member}.lo)
    elseif(${member}.o IN_LIST elementary_there)
      list(APPEND elementary_files ${member}.o)
    else()
      set(elementary_missing "${WHORL_MUSL_ARCHIVE} has no ${member}")
    endif()
  endforeach()
endif()

if(NOT elementary_missing)
  set(WHORL_ELEMENTARY_NAMES ${elementary_folder}/names)
  set(elementary_kept ${elementary_folder}/kept)
  set(elementary_renamed "")
  set(elementary_global "")
  foreach(name ${elementary_names})
    string(APPEND elementary_renamed "${name} whorl_${name}\n")
    string(APPEND elementary_global "whorl_${name}\n")
  endforeach()
  file(WRITE ${WHORL_ELEMENTARY_NAMES} "${elementary_renamed}")
  file(WRITE ${elementary_kept} "${elementary_global}")
  set(WHORL_ELEMENTARY_OBJECT ${elementary_folder}/elementary.o)
  execute_process(
    COMMAND ${CMAKE_AR} x ${WHORL_MUSL_ARCHIVE} ${elementary_files}
    WORKING_DIRECTORY ${elementary_folder}/members COMMAND_ERROR_IS_FATAL ANY)
  # In two steps: objcopy keeps and renames by the names it finds.
  execute_process(
    COMMAND ${CMAKE_LINKER} -r -o ../together.o ${elementary_files}
    WORKING_DIRECTORY ${elementary_folder}/members COMMAND_ERROR_IS_FATAL ANY)
  execute_process(
    COMMAND ${CMAKE_OBJCOPY} --redefine-syms=names together.o renamed.o
    WORKING_DIRECTORY ${elementary_folder} COMMAND_ERROR_IS_FATAL ANY)
  execute_process(
    COMMAND ${CMAKE_OBJCOPY} --keep-global-symbols=kept renamed.o elementary.o
    WORKING_DIRECTORY ${elementary_folder} COMMAND_ERROR_IS_FATAL ANY)
  set(WHORL_WITH_ELEMENTARY ON)
elseif(WHORL_ELEMENTARY STREQUAL ON)
  message(FATAL_ERROR "WHORL_ELEMENTARY is ON, but ${elementary_missing}")
else()
  message(STATUS "Elementary functions from the C library of this machine (${elementary_missing}): "
    "the last digits depend on the processor and differ from those of the page")
endif()

# Calls of exp and the like in TARGET, a static library, go to the object above.
function(whorl_take_elementary TARGET)
  if(WHORL_WITH_ELEMENTARY)
    target_sources(${TARGET} PRIVATE ${WHORL_ELEMENTARY_OBJECT})
    add_custom_command(TARGET ${TARGET} POST_BUILD
      COMMAND ${CMAKE_OBJCOPY} --redefine-syms=${WHORL_ELEMENTARY_NAMES} $<TARGET_FILE:${TARGET}> VERBATIM)
  endif()
endfunction()
