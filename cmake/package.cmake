# Debian packages, one a component: `cpack` in the build folder once everything is built. The program does
# without the import program and its many libraries, so its package only recommends the other.
find_program(GZIP gzip)
if(NOT GZIP)
  return()
endif()

# What only a package has, compressed without time or name, so that equal sources give equal bytes.
function(compressed input output)
  execute_process(COMMAND ${GZIP} -9nc ${input} OUTPUT_FILE ${output} COMMAND_ERROR_IS_FATAL ANY)
  set_property(DIRECTORY ${PROJECT_SOURCE_DIR} APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${input})
endfunction()
configure_file(${PROJECT_SOURCE_DIR}/tools/install/changelog.in ${PROJECT_BINARY_DIR}/package/changelog @ONLY)
compressed(${PROJECT_BINARY_DIR}/package/changelog ${PROJECT_BINARY_DIR}/package/changelog.gz)

function(debian_package component package)
  install(FILES ${PROJECT_SOURCE_DIR}/tools/install/copyright COMPONENT ${component} EXCLUDE_FROM_ALL
    DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/${package})
  install(FILES ${PROJECT_BINARY_DIR}/package/changelog.gz COMPONENT ${component} EXCLUDE_FROM_ALL
    DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/${package})
  set(CPACK_COMPONENTS_ALL ${CPACK_COMPONENTS_ALL} ${component} PARENT_SCOPE)
  string(TOUPPER ${component} upper)
  set(CPACK_DEBIAN_${upper}_PACKAGE_NAME ${package} PARENT_SCOPE)
endfunction()

set(CPACK_COMPONENTS_ALL)
if(TARGET rimstance_program)
  compressed(${PROJECT_BINARY_DIR}/rimstance.1 ${PROJECT_BINARY_DIR}/package/rimstance.1.gz)
  install(FILES ${PROJECT_BINARY_DIR}/package/rimstance.1.gz COMPONENT main EXCLUDE_FROM_ALL
    DESTINATION ${CMAKE_INSTALL_MANDIR}/man1)
  debian_package(main rimstance)
  set(CPACK_DEBIAN_MAIN_PACKAGE_SHLIBDEPS ON)
  set(CPACK_DEBIAN_MAIN_PACKAGE_RECOMMENDS rimstance-import)
  set(CPACK_DEBIAN_MAIN_DESCRIPTION "stability of a rover-mounted crane on real terrain
Places a crane carrier on measured ground, levels it within the strokes of its
outriggers, and proves the least margin against tipping over the whole of its
operation, for each load case.

Reads PLY, OBJ, STL, OFF, ESRI ASCII grids and points. Other meshes and
rasters need the package rimstance-import.")
endif()
if(TARGET rimstance_import)
  debian_package(import rimstance-import)
  set(CPACK_DEBIAN_IMPORT_PACKAGE_SHLIBDEPS ON)
  # Both speak one version of a private language.
  set(CPACK_DEBIAN_IMPORT_PACKAGE_DEPENDS "rimstance (= ${PROJECT_VERSION})")
  set(CPACK_DEBIAN_IMPORT_DESCRIPTION "more terrain formats for rimstance
With this package rimstance reads glTF, Collada, 3MF and other meshes, and
GeoTIFF, PDS, ISIS, ENVI and netCDF rasters. The libraries behind them run in
a program of their own, within limits of time and memory.")
endif()
debian_package(dev librimstance-dev)
set(CPACK_DEBIAN_DEV_PACKAGE_SECTION libdevel)
set(CPACK_DEBIAN_DEV_PACKAGE_DEPENDS
  "libeigen3-dev, libssl-dev, libyaml-cpp-dev, libfmt-dev, libudunits2-dev, libxlsxwriter-dev, libmpfr-dev, libgmp-dev")
set(CPACK_DEBIAN_DEV_DESCRIPTION "stability of a rover-mounted crane on real terrain (library)
Headers, the static library and the CMake package of Rimstance, which tells
whether a rover-mounted crane stands on measured ground.")

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME rimstance)
set(CPACK_PACKAGE_VENDOR "Rimstance")
set(CPACK_PACKAGE_CONTACT "Rimstance maintainers <maintainers@rimstance.example.org>")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "")  # each package has its own
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION science)
set(CPACK_DEBIAN_PACKAGE_PRIORITY optional)
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)
set(CPACK_INSTALL_DEFAULT_DIRECTORY_PERMISSIONS OWNER_READ OWNER_WRITE OWNER_EXECUTE GROUP_READ GROUP_EXECUTE
  WORLD_READ WORLD_EXECUTE)
set(CPACK_PACKAGE_DIRECTORY ${PROJECT_BINARY_DIR}/packages)
include(CPack)
