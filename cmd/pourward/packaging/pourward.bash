# Made by go test ./cmd/pourward -run Manual -update; do not edit.
_pourward() {
  local word=${COMP_WORDS[COMP_CWORD]} offers=
  COMPREPLY=()
  if [ "$COMP_CWORD" -eq 1 ]; then
    offers="demo serve check-config doctor try-message mark batch plan link report export import mend materials probes replay score version"
  elif [[ $word == -* ]]; then
    case ${COMP_WORDS[1]} in
    demo) offers="-dir -fresh -listen -log -seed -sound -speed" ;;
    serve) offers="-config" ;;
    check-config) offers="-example" ;;
    doctor) offers="-config" ;;
    try-message) offers="-config -to" ;;
    mark) offers="-additives -area-cm2 -at -ca -coats -corrects -depth-mm -face -film-um -found -from -layer-mm -layers -length-mm -lot -material -method -mold -note -of -parts -password-file -pattern -pattern-ml -pattern-mm -place -prep -probe-in -rubber-mm -shell -shell-mm -surface -title -to -user -width-mm" ;;
    batch) offers="-additives -area-cm2 -box-mm -ca -config -cup-ml -cup-mm -grams -layer-mm -material -materials -max -ml -mold -password-file -pattern-ml -ratio -repeatability -step -to -tolerance -use-up -user -waste -weighing" ;;
    plan) offers="-begin -by -ca -heat -heat-from -heat-hours -password-file -place -to -user -work" ;;
    link) offers="-ca -for -list -mold -password-file -revoke -to -user" ;;
    report) offers="-config -csv -journal -mold -o" ;;
    export) offers="-config -journal -o" ;;
    import) offers="-journal" ;;
    mend) offers="-o" ;;
    materials) offers="-example -file" ;;
    probes) offers="-broker -ca -listen -measure -password-file -root -topics -unit -user" ;;
    replay) offers="-every -humidity -humidity-unit -marks -quiet -skip-bad -temp -temp-unit -time -time-layout -until -zone" ;;
    score) offers="-every -humidity -humidity-unit -pour-every -skip-bad -temp -temp-unit -time -time-layout -zone" ;;
    esac
  fi
  if [ -n "$offers" ]; then
    mapfile -t COMPREPLY < <(compgen -W "$offers" -- "$word")
  fi
}
complete -o default -F _pourward pourward
