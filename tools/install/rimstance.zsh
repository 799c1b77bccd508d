#compdef rimstance
# zsh completion of rimstance; tests/package holds its options against those of the program.

_rimstance() {
  local context state line
  local -A opt_args
  local -a commands help common scenario
  commands=(
    'inspect:facts about a terrain file'
    'stand:place, level and assess the machine'
    'capacity:payload over reach and slew'
    'counterweight:travels and masses that hold, and a schedule'
    'new:write a scenario to start from'
    'schema:JSON Schema of scenario files'
  )
  help=('(- *)'{-h,--help}'[print a short help]')
  common=(
    '--json[print the result as JSON]'
    '-o[folder for pictures and results]:folder:_files -/'
    '--quiet[no progress and no notes]'
  )
  scenario=(
    '*--set[override a scenario value]:PATH=VALUE: '
    '--gap[how tightly curved measures are certified]:share: '
    '--threads[number of threads]:number: '
    '1:scenario:_files -g "*.(yaml|yml)(-.)"'
  )
  _arguments -C $help '(- *)--version[print the version]' '1:command:->command' '*::argument:->argument' && return
  case $state in
    command) _describe command commands ;;
    argument)
      case $words[1] in
        inspect)
          _arguments $help $common \
            '--up[axis of a mesh that points up]:axis:(x y z)' \
            '--mostly-wall[more wall than ground was mapped]' \
            '--unit[unit of lengths]:unit:(m km cm mm ft)' \
            '--pad[radius of a pad]:length: ' \
            '--hole-below[heights below this are holes]:length: ' \
            '--weld[closer vertices of a mesh are one]:length: ' \
            '--longest-edge[facets with a longer side are holes]:length: ' \
            '--classes[classes of points that are ground]:list: ' \
            '--spacing[between posts of an image of heights]:length: ' \
            '--scale[height of one count of an image]:length: ' \
            '--offset[height of count 0 of an image]:length: ' \
            '--posts[posts of heights.tif, with -o]:length: ' \
            '*--at[height and slope at a place]:X,Y: ' \
            '1:terrain:_files -g "(#i)*.(ply|obj|stl|off|asc|las|xyz|txt|csv|pts|gltf|glb|dae|3mf|fbx|3ds|x3d|lwo|tif|tiff|img|lbl|xml|cub|nc|png|hdr|dem)(-.)"'
          ;;
        stand) _arguments $help $common $scenario ;;
        capacity)
          _arguments $help $common $scenario \
            '--by[reach, or luff and extension]:stations:(reach setting)' \
            '--reaches[stations over the reach]:number: ' \
            '--luffs[by setting, stations over the luff]:number: ' \
            '--extensions[by setting, stations over the extension]:number: ' \
            '--slew-step[width of the cells of slew]:angle: '
          ;;
        counterweight)
          _arguments $help $common $scenario \
            '--reaches[stations over the reach]:number: ' \
            '--slew-step[width of the ranges of slew]:angle: '
          ;;
        new) _arguments $help '--quiet[no notes]' '1:folder:_files -/' ;;
        schema) _arguments $help ;;
      esac
      ;;
  esac
}

_rimstance "$@"
