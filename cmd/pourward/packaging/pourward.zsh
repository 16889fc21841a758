#compdef pourward
# Made by go test ./cmd/pourward -run Manual -update; do not edit.
local -a offers
if (( CURRENT == 2 )); then
  offers=(
    'demo:watch an invented winter night in a museum workshop'\''s annex'
    'serve:run the daemon: probes, journal, page and metrics'
    'check-config:judge a config file without starting anything'
    'doctor:look at all that the daemon needs, and tell what is wrong'
    'try-message:send a trial to those who are told of alerts'
    'mark:enter what was done at the bench'
    'batch:tell what to weigh for a mold, and whether the scale holds the ratio'
    'plan:reckon back from a deadline: the latest start, and what heat would buy'
    'link:let someone look at one mold for some time'
    'report:write the record of one mold, to print or as a table'
    'export:write the whole record out as text'
    'import:read a record that was written out into a new journal'
    'mend:make a new journal of what is whole in a damaged one'
    'materials:list what marks may name, or judge a maker'\''s own file'
    'probes:list the probes that this board and a broker offer, with lines for the config'
    'replay:fold a file of recorded readings and tell what came of it'
    'score:judge the forecaster on a recorded climate'
    'version:tell which version this is'
  )
  _describe command offers
elif [[ $PREFIX == -* ]]; then
  case $words[2] in
  demo)
    offers=(
      '-dir:folder of the demo'\''s journal'
      '-fresh:begin the story anew'
      '-listen:address of the page and /metrics'
      '-log:write the daemon'\''s log as well'
      '-seed:number the weather and the probes'\'' noise are drawn from'
      '-sound:leave the pattern'\''s probe alone: nobody pulls its plug in the evening'
      '-speed:seconds of the shop that pass in a real second'
    )
    ;;
  serve)
    offers=(
      '-config:config file'
    )
    ;;
  check-config)
    offers=(
      '-example:print an example file to start from'
    )
    ;;
  doctor)
    offers=(
      '-config:config file'
    )
    ;;
  try-message)
    offers=(
      '-config:config file'
      '-to:try only the one of this name'
    )
    ;;
  mark)
    offers=(
      '-additives:mixed, patch-on: what else went in, with its weight and its maker'\''s factor on the times: "retarder 5 g x1.5"'
      '-area-cm2:begun: the face to brush, its folds included, in cm²'
      '-at:when it happened: a time such as 19:40, yesterday 19:40, 20 min ago, 2026-01-14 19:40; now if left out'
      '-ca:file with the certificate of whom to believe under https; the system'\''s authorities if left out'
      '-coats:begun: how many seal coats are to go on'
      '-corrects:number of the mark that this one replaces, or that never happened (withdrawn)'
      '-depth-mm:begun: the depth in mm up to which it is filled'
      '-face:begun, patch-on: what the face is that the rubber meets, such as oil clay'
      '-film-um:coat-on, release-on: the thickness of the dry film it makes, in µm, where the data sheet states one'
      '-found:checked: what was found: firm, tacky, liquid or "surface spoiled"'
      '-from:mixed, patch-on: the place where the parts stood'
      '-layer-mm:begun: the thickness of one layer in mm'
      '-layers:begun: how many layers are to be brushed on'
      '-length-mm:begun: the length of the box inside, in mm'
      '-lot:mixed, patch-on: the lot on the containers'
      '-material:begun, coat-on, release-on, mixed, patch-on: the material'
      '-method:begun: how it is made: block, brushed or glove'
      '-mold:the short name of the mold or patch'
      '-note:anything worth keeping'
      '-of:checked: what was touched: cup, patch, mold or coat'
      '-parts:mixed, patch-on: what was weighed, such as "A 1000 g, B 100 g"'
      '-password-file:file with that user'\''s password in one line'
      '-pattern:begun: what the pattern is made of: plaster, oil clay, wood, ...'
      '-pattern-ml:begun: the volume of the pattern below that, in mL'
      '-pattern-mm:begun: its thickness in mm'
      '-place:begun, patch-on: the place where it stands; moved: where to'
      '-prep:patch-on: coats and release on that face in order, such as lacquer,wax-naphtha; bare if left out'
      '-probe-in:begun: where the probe of -surface sits: pattern or rubber; pattern if left out'
      '-rubber-mm:begun: the thickness of the rubber in mm; with it the lag behind the air is reckoned'
      '-shell:begun: what lies on the rubber, such as wood for a box'
      '-shell-mm:begun: its thickness in mm'
      '-surface:begun, moved: the place of a probe on the pattern'
      '-title:begun: the mold'\''s name for people'
      '-to:address of the daemon'
      '-user:name to come in with, where the daemon asks for one'
      '-width-mm:begun: its width in mm'
    )
    ;;
  batch)
    offers=(
      '-additives:shares of additives, and their makers'\'' factors on the times: "thixotropic 1 %, retarder 0.5 % of B x1.5"'
      '-area-cm2:face to brush in cm², its folds included'
      '-box-mm:sides of the box inside, such as 300x200x60: length, width, depth up to which it is filled'
      '-ca:file with the certificate of whom to believe under https; the system'\''s authorities if left out'
      '-config:the daemon'\''s config file: it names the scale and the maker'\''s own materials'
      '-cup-ml:what a cup holds to the brim in mL'
      '-cup-mm:its width inside in mm, for the height to fill it to'
      '-grams:grams in all, additives included'
      '-layer-mm:thickness of the layer on it in mm'
      '-material:the material; left out, the rubber of -mold'
      '-materials:the maker'\''s own file of materials, instead of the config'\''s'
      '-max:the most it takes in g'
      '-ml:volume to fill in mL'
      '-mold:a mold on record, asked of the daemon'
      '-password-file:file with that user'\''s password in one line'
      '-pattern-ml:volume of the pattern in that box in mL'
      '-ratio:ratio by weight where the material is a built-in class: "A 10, B 1"'
      '-repeatability:its repeatability in g, one standard deviation'
      '-step:the scale'\''s step in g, instead of the config'\''s'
      '-to:address of the daemon'
      '-tolerance:relative error that this ratio may have, such as "2 %"'
      '-use-up:the part to use up and its grams, such as "A 430 g"'
      '-user:name to come in with, where the daemon asks for one'
      '-waste:share more than a volume needs, for cup and brush'
      '-weighing:how: zeroed before each thing, running sum, or apart'
    )
    ;;
  plan)
    offers=(
      '-begin:tell of this start instead of the latest that holds'
      '-by:when it is to be demolded: a time such as Fri 17:00, tomorrow 12:00, in 30 h'
      '-ca:file with the certificate of whom to believe under https; the system'\''s authorities if left out'
      '-heat:compare with the place held at this temperature, such as "22 °C"'
      '-heat-from:heated from this time on; from now on if left out'
      '-heat-hours:heated in these hours only; day and night if left out'
      '-password-file:file with that user'\''s password in one line'
      '-place:the place whose air it is; the first one if left out'
      '-to:address of the daemon'
      '-user:name to come in with, where the daemon asks for one'
      '-work:working hours, such as "mon-fri 08:00-17:00; sat 09:00-12:00"; the shop'\''s own if left out'
    )
    ;;
  link)
    offers=(
      '-ca:file with the certificate of whom to believe under https; the system'\''s authorities if left out'
      '-for:how long the link opens, up to 90d'
      '-list:tell which links are open'
      '-mold:the mold'\''s short name'
      '-password-file:file with that user'\''s password in one line'
      '-revoke:close the link of this number now'
      '-to:address of the daemon'
      '-user:name to come in with, where the daemon asks for one'
    )
    ;;
  report)
    offers=(
      '-config:config file that says where the journal lies'
      '-csv:write a table (CSV) instead of a page'
      '-journal:file of the journal; that of the config file if left out'
      '-mold:the mold'\''s short name'
      '-o:file to write; standard output if left out'
    )
    ;;
  export)
    offers=(
      '-config:config file that says where the journal lies'
      '-journal:file of the journal; that of the config file if left out'
      '-o:file to write, compressed where its name ends in .gz; standard output if left out'
    )
    ;;
  import)
    offers=(
      '-journal:file of the new journal'
    )
    ;;
  mend)
    offers=(
      '-o:file of the new journal; that of the old one with .mended at its end if left out'
    )
    ;;
  materials)
    offers=(
      '-example:print an example file to start from'
      '-file:a maker'\''s own file'
    )
    ;;
  probes)
    offers=(
      '-broker:address of an MQTT broker to listen to, such as tcp://192.168.1.5:1883'
      '-ca:file with the authorities to believe, for a tls:// address'
      '-listen:how long to listen'
      '-measure:which chips on I²C buses to measure with, and so to write to: none, sure (those known for certain) or all'
      '-password-file:file with that user'\''s password'
      '-root:folder below which dev and sys lie'
      '-topics:filters of the topics to listen to, with commas between them'
      '-unit:unit of temperatures: C or F'
      '-user:name to be known by at the broker'
    )
    ;;
  replay)
    offers=(
      '-every:how far apart the readings should be'
      '-humidity:column with the relative humidity; none if left out'
      '-humidity-unit:its unit: % or ratio'
      '-marks:CSV file of marks: at,mark,mold,place,material,...'
      '-quiet:tell only the outlook at the end'
      '-skip-bad:leave out rows that cannot be read, and count them'
      '-temp:column with the air temperature'
      '-temp-unit:its unit: C or F; times and temperatures are told in the same'
      '-time:column with the time'
      '-time-layout:how times are written: an example of 2 January 2006 15:04:05, or unix'
      '-until:stop at this time; the end of the file if left out'
      '-zone:time zone of times written without one, and of those told'
    )
    ;;
  score)
    offers=(
      '-every:how far apart the readings should be'
      '-humidity:column with the relative humidity; none if left out'
      '-humidity-unit:its unit: % or ratio'
      '-pour-every:hours between the cures that are poured; 3 if left out'
      '-skip-bad:leave out rows that cannot be read, and count them'
      '-temp:column with the air temperature'
      '-temp-unit:its unit: C or F; times and temperatures are told in the same'
      '-time:column with the time'
      '-time-layout:how times are written: an example of 2 January 2006 15:04:05, or unix'
      '-zone:time zone of times written without one, and of those told'
    )
    ;;
  esac
  _describe -o flag offers
else
  _files
fi
