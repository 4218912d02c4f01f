# Installs the built tree into a temporary prefix, moves it, and builds and runs a user's project against it.
# cmake -DBUILD=... -DSOURCE=... -DVERSION=... -DGENERATOR=... -DCOMPILER=... -DCONFIG=... -DFLAGS=... -DPAGE=... -P run.cmake
cmake_minimum_required(VERSION 3.25)
set(work "${BUILD}/install-test")
set(first "${work}/first")
set(prefix "${work}/moved here")  # another place, with a space in its name
file(REMOVE_RECURSE "${work}")
file(MAKE_DIRECTORY "${work}")

function(run)
  cmake_parse_arguments(ARG "" "OUTPUT" "" ${ARGN})
  execute_process(COMMAND ${ARG_UNPARSED_ARGUMENTS} RESULT_VARIABLE code OUTPUT_VARIABLE out ERROR_VARIABLE err)
  if(NOT code EQUAL 0)
    list(JOIN ARG_UNPARSED_ARGUMENTS " " command)
    message(NOTICE "${out}${err}")
    message(FATAL_ERROR "exit ${code}: ${command}")
  endif()
  if(ARG_OUTPUT)
    set(${ARG_OUTPUT} "${out}" PARENT_SCOPE)
  endif()
endfunction()

run(${CMAKE_COMMAND} --install "${BUILD}" --prefix "${first}" --config ${CONFIG})
file(RENAME "${first}" "${prefix}")

# What must be there, wherever this system keeps its library folder.
file(GLOB_RECURSE installed RELATIVE "${prefix}" "${prefix}/*")
foreach(wanted IN ITEMS
    "^bin/whorl$" "share/whorl/cases/pcl-chloroform.json$" "share/whorl/data/solvents.json$" "share/whorl/case.schema.json$"
    "/LICENSE$" "/README.md$" "/docs/formats/case.md$" "^include/whorl/engine/estimate.hpp$" "^include/whorl/io/case_file.hpp$"
    "/libwhorl_model.a$" "/libwhorl_solver.a$" "/libwhorl_jet.a$" "/libwhorl_engine.a$" "/libwhorl_io.a$" "/libwhorl_study.a$"
    "^include/whorl/study/window_search.hpp$" "/cmake/whorl/whorlConfig.cmake$"
    "/cmake/whorl/whorlConfigVersion.cmake$")
  set(found "${installed}")
  list(FILTER found INCLUDE REGEX "${wanted}")
  if(NOT found)
    message(FATAL_ERROR "nothing installed matches ${wanted}; installed:\n${installed}")
  endif()
endforeach()

# Nothing may point back to where it was built or first installed.
foreach(path IN LISTS installed)
  if(NOT path MATCHES "\\.cmake$")
    continue()
  endif()
  file(READ "${prefix}/${path}" text)
  foreach(place IN ITEMS "${BUILD}" "${SOURCE}" "${first}")
    string(FIND "${text}" "${place}" at)
    if(NOT at EQUAL -1)
      message(FATAL_ERROR "${path} names ${place}: not relocatable")
    endif()
  endforeach()
endforeach()

# The page: as it was built, where it was; else the installed program says what makes it, and nothing is written.
set(page "${prefix}/share/whorl/whorl.html")
if(EXISTS "${PAGE}")
  run(${CMAKE_COMMAND} -E compare_files "${PAGE}" "${page}")
  run("${prefix}/bin/whorl" page -o "${work}/mine.html")
  run(${CMAKE_COMMAND} -E compare_files "${PAGE}" "${work}/mine.html")
  message(STATUS "the page: installed, and written by the installed program")
else()
  if(EXISTS "${page}")
    message(FATAL_ERROR "a page is installed, but ${PAGE} is not there")
  endif()
  execute_process(COMMAND "${prefix}/bin/whorl" page -o "${work}/mine.html" RESULT_VARIABLE code ERROR_VARIABLE err)
  if(NOT code EQUAL 2 OR NOT err MATCHES "tools/build-page" OR EXISTS "${work}/mine.html")
    message(FATAL_ERROR "without a page: exit ${code}, ${err}")
  endif()
  message(STATUS "no page was built: none is installed, and the program says so")
endif()

run(${CMAKE_COMMAND} -S "${SOURCE}/tests/install" -B "${work}/user" -G ${GENERATOR} "-DCMAKE_PREFIX_PATH=${prefix}"
  "-DCMAKE_CXX_COMPILER=${COMPILER}" "-DCMAKE_BUILD_TYPE=${CONFIG}" "-DCMAKE_CXX_FLAGS=${FLAGS}" "-DEXPECTED_VERSION=${VERSION}")
run(${CMAKE_COMMAND} --build "${work}/user" --config ${CONFIG})
run("${work}/user/uses_whorl" OUTPUT answer)
string(STRIP "${answer}" answer)

run("${work}/user/studies")

# The library must say what the installed program says.
run("${prefix}/bin/whorl" estimate "${prefix}/share/whorl/cases/pcl-chloroform.json" --json OUTPUT json)
string(JSON class GET "${json}" class)
string(JSON diameter GET "${json}" results dry_diameter_um)
string(REPLACE " " ";" words "${answer}")
list(GET words 0 library_class)
list(GET words 1 library_diameter)
string(SUBSTRING "${diameter}" 0 11 diameter)
string(SUBSTRING "${library_diameter}" 0 11 library_diameter)
if(NOT library_class STREQUAL class OR NOT library_diameter STREQUAL diameter)
  message(FATAL_ERROR "library: ${answer}; program: ${class} ${diameter}")
endif()
message(STATUS "installed, moved, built and ran a user's project: ${answer}")
file(REMOVE_RECURSE "${work}")
