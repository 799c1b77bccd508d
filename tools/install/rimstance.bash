# bash completion of rimstance; tests/package holds its options against those of the program.

# The folders that start with the word, and the files that also end as the pattern (a regular expression) says.
_rimstance_files() {
  local name
  compopt -o filenames 2>/dev/null
  while IFS= read -r name; do
    [[ -d $name || ${name,,} =~ $2 ]] && COMPREPLY+=("$name")
  done < <(compgen -f -- "$1")
}

_rimstance() {
  local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]} command='' options k
  COMPREPLY=()
  for ((k = 1; k < COMP_CWORD; ++k)); do
    case ${COMP_WORDS[k]} in
      inspect | stand | capacity | counterweight | new | schema)
        command=${COMP_WORDS[k]}
        break
        ;;
    esac
  done
  case $before in
    -o)
      compopt -o filenames 2>/dev/null
      mapfile -t COMPREPLY < <(compgen -d -- "$word")
      return
      ;;
    --up)
      mapfile -t COMPREPLY < <(compgen -W 'x y z' -- "$word")
      return
      ;;
    --by)
      mapfile -t COMPREPLY < <(compgen -W 'reach setting' -- "$word")
      return
      ;;
    --unit)
      mapfile -t COMPREPLY < <(compgen -W 'm km cm mm ft' -- "$word")
      return
      ;;
    --at | --set | --gap | --threads | --reaches | --slew-step) return ;;
    --pad | --hole-below | --weld | --longest-edge | --classes | --spacing | --scale | --offset | --posts) return ;;
  esac
  case $command in
    '') options='-h --help --version' ;;
    inspect)
      options='-h --help --up --mostly-wall --unit --pad --hole-below --weld --longest-edge --classes --spacing --scale --offset --at
        --posts --json -o --quiet'
      ;;
    stand) options='-h --help --json -o --quiet --set --gap --threads' ;;
    capacity) options='-h --help --by --reaches --luffs --extensions --slew-step --json -o --quiet --set --gap --threads' ;;
    counterweight) options='-h --help --reaches --slew-step --json -o --quiet --set --gap --threads' ;;
    new) options='-h --help --quiet' ;;
    schema) options='-h --help' ;;
  esac
  if [[ $word == -* ]]; then
    mapfile -t COMPREPLY < <(compgen -W "$options" -- "$word")
    return
  fi
  case $command in
    '') mapfile -t COMPREPLY < <(compgen -W 'inspect stand capacity counterweight new schema' -- "$word") ;;
    inspect)
      _rimstance_files "$word" '\.(ply|obj|stl|off|asc|las|xyz|txt|csv|pts|gltf|glb|dae|3mf|fbx|3ds|x3d|lwo|tiff?|img|lbl|xml|cub|nc|png|hdr|dem)$'
      ;;
    stand | capacity | counterweight) _rimstance_files "$word" '\.ya?ml$' ;;
    new)
      compopt -o filenames 2>/dev/null
      mapfile -t COMPREPLY < <(compgen -d -- "$word")
      ;;
  esac
}

complete -F _rimstance rimstance
