#!/bin/sh
# Makes a book for an invented firm, closes visits good and bad, writes notices and the year; says where everything is.
# Usage: sh demo/run.sh        (PYTHON=... names the interpreter that makes .venv)
set -eu

CDPATH='' cd -- "$(dirname -- "$0")/.."
venv=.venv
py=$venv/bin/python
out=demo/out

stop() {
    printf 'demo/run.sh: stopped: %s\n' "$*" >&2
    exit 1
}

new_enough() {
    "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1
}

unset PYTHONPATH PYTHONHOME VIRTUAL_ENV SWATHBOOK_BOOK 2>/dev/null || :
PIP_DISABLE_PIP_VERSION_CHECK=1
export PIP_DISABLE_PIP_VERSION_CHECK

if ! { [ -x "$py" ] && new_enough "$py"; }; then
    found=
    for candidate in ${PYTHON:-} python3.11 python3.12 python3.13 python3.14 python3; do
        if command -v "$candidate" >/dev/null 2>&1 && new_enough "$candidate"; then
            found=$candidate
            break
        fi
    done
    [ -n "$found" ] || stop "no Python 3.11 or later found; install one, or name it: PYTHON=/path/to/python sh demo/run.sh"
    printf 'making %s with %s\n' "$venv" "$found"
    "$found" -m venv --clear "$venv" || stop "python -m venv failed; on Debian and its kin install the python3-venv package"
fi
if ! "$py" -c 'import sqlalchemy, alembic, typer, reportlab, pint, openpyxl, rfc8785, icalendar, scipy, records' >/dev/null 2>&1; then
    printf 'installing pinned packages (a minute at most)\n'
    "$py" -m pip install --quiet --upgrade pip || stop "pip could not be upgraded (is the network up?)"
    "$py" -m pip install --quiet --editable . --constraint tests/constraints.txt ||
        stop "the pinned packages could not be installed; tests/constraints.txt has the versions"
fi

rm -rf "$out"
mkdir -p "$out"
book=$out/season.db
now=2026-04-01T08:00-05:00

# Runs a command as it would be typed, at the moment the story has reached.
sb() {
    printf '\n$ swathbook'
    for word in "$@"; do
        case $word in
            *[\ \']*) printf ' "%s"' "$word" ;;
            *) printf ' %s' "$word" ;;
        esac
    done
    printf '\n'
    code=0
    "$py" demo/at.py "$now" --book "$book" "$@" || code=$?
    [ "$code" -le 1 ] || stop "that command ended with exit code $code"
}

say() {
    printf '\n--- %s\n' "$*"
}

say 'A new book, and the firm into it'
sb init
sb load demo/firm/business.toml demo/firm/people.toml demo/firm/customers.toml demo/firm/products.toml demo/firm/equipment.toml

say 'Before the season: the yard measured, the sprayers calibrated, the shelf filled'
now=2026-04-13T10:00-05:00
sb area 'rectangle 70 ft x 60 ft' --site lark-lane-7 --zone front --how wheel --by mo
sb calibrate skid-1 refill --area '1000 sq ft' --used '2 gal' --by mo --nozzle 'flat fan 06' --pressure '40 psi'
sb calibrate can-1 timed --area '500 sq ft' --cover '60 s' --caught '0.5 gal' --by mo
while read -r product packs lot price; do
    sb stock buy "$product" "$packs" --lot "$lot" --price "$price" --at 2026-04-10 --by ines
done <<END
brindle-4l 1x2.5gal B2311 214.50
orlop-3w 1x2.5gal R2604 148.00
pellam-3w 1x1gal P0071 66.00
sedgeline-75 1x1.33oz G0391 96.40
flintel-4f 1x1pt F5512 41.00
kelbrook-60 1x8oz K190 88.00
tessaly-4sc 1x8floz T77A 71.50
wexcombe-2l 1x1qt W0015 58.25
cobbet-wf 7x40lb C8841 31.75
nidder-04g 13x40lb N3301 27.90
garrick-3sl 1x1qt Q2209 19.80
sourleaf-25b 1x1gal SL-26-04 24.60
spreadwell 1x1gal S118 32.90
END

say 'A load, planned before anything is mixed'
now=2026-04-27T17:10-05:00
sb plan --site lark-lane-7 --site marigold-112 --product 'orlop-3w=1 fl oz/1000 sq ft' --product 'spreadwell=0.25 % v/v' \
    --equipment skid-1 --on 2026-04-28 --by mo --target dandelion --temperature '70 degF' --card "$out/mix-card.pdf"

say 'The season of 2026, each visit closed minutes after it ended (demo/play.py)'
"$py" demo/play.py "$book" || stop "the season could not be played"

say 'A good visit'
now=2026-10-19T09:55-05:00
sb close demo/visits/good.json
good=$("$py" demo/at.py "$now" --book "$book" --json close demo/visits/good.json |
    "$py" -c 'import json, sys; print(json.load(sys.stdin)["serial"])')

say 'Over the label: held, then corrected'
now=2026-10-20T16:30-05:00
sb close demo/visits/over-rate.json
sb held
sb held correct H-000001 demo/visits/over-rate-corrected.json

say 'Over the label, and it really happened: sealed as applied, with a signature'
sb close demo/visits/as-applied.json --as-applied 'pressure regulator stuck open; customer told' --signed-by ines

say 'Typed by a tired person'
now=2026-10-21T18:10-05:00
sb close demo/visits/tired-decimal-slip.json
sb held drop H-000002 --reason 'demo: never sprayed'

say 'What was sprayed at this address since August?'
sb find --site '58 Quarry' --since 2026-08
sb show "$good"

say 'The lot was misread: the record is corrected by a new sealed revision, and the first text stays'
sb amend "$good" demo/visits/good-corrected.json --reason 'lot misread on the jug' --by ines
sb show "$good"

say 'For the door, for the customer, for the drawer'
sb notice "$good" --out "$out/notice.pdf"
sb notice "$good" --language es --paper a4 --out "$out/notice-es.pdf"
sb notice quarry-rd-58 --season 2026 --out "$out/season-notice.pdf"
sb summary 2026 --out "$out/summary-2026.pdf" --out "$out/summary-2026.csv" --out "$out/summary-2026.json"

say 'Why is that asked, and where does it stand?'
sb why temperature

say 'Back for a look: what the treatments of the last weeks did (demo/play.py)'
"$py" demo/play.py "$book" looks || stop "the looks could not be played"
now=2026-10-23T18:30-05:00
sb ratings --from 2026-10-20
sb looks

say 'Tomorrow: three stops, a neighbour who wants to be called, and rain on one of them'
now=2026-10-26T16:40-05:00
sb day add lark-lane-7 '31 Kettle' 'Cedar Spur' --on 2026-10-27 --at 09:30 --for 'ground ivy' --by mo
sb contact lark-lane-7 dalby --for 2026-10-27 --how phone --result no-answer --by mo
now=2026-10-26T18:05-05:00
sb contact lark-lane-7 dalby --for 2026-10-27 --how phone --result reached --by mo
sb postpone cedar-spur-3 --from 2026-10-27 --to 2026-10-28 --reason rain --by mo
now=2026-10-27T08:30-05:00
sb day

say 'The inspector is coming'
sb ready
sb duty --days 60 --ics "$out/duty.ics"
sb inspect --site '58 Quarry' --from 2026-08 --to 2026-10 --asked-by 'R. Ames, state inspector' \
    --out "$out/packet.pdf" --out "$out/packet.csv" --out "$out/packet.xlsx" --out "$out/packet.json"
sb inspect --from 2026 --to 2026 --random 5 --seed 7 --asked-by 'R. Ames, state inspector' --out "$out/random.pdf"
sb inspect --log
sb emergency quarry-rd-58 --out "$out/emergency.pdf"

say 'Which mix is in which tank, and does it all add up?'
sb mix
sb mix show mix-0512
sb stock
sb cost --per month
sb cost compare 'orlop-3w=1 fl oz/1000 sq ft+spreadwell=0.25 % v/v' 'brindle-4l=1.1 fl oz/1000 sq ft' --output '2 gal/1000 sq ft'
sb actives lark-lane-7
sb nutrients --year 2026
sb weather metar 'KXYZ 271253Z 30003KT 10SM CLR 06/04 A3012' --on 2026-10-27

say 'Did it work? What is quicker, what comes next, what do people ask, what was the year?'
sb looks --days 3
sb compare 'yellow nutsedge' --out "$out/compare.pdf"
sb callback mill-loop-230
sb groups mill-loop-230
sb answer '58 Quarry' --out "$out/answer.pdf"
sb answer '58 Quarry' --neighbour --language es --out "$out/neighbour-es.pdf"
sb season 2026 --out "$out/season.pdf" --out "$out/season.csv" --out "$out/season.xlsx"

say 'Sums by any keys, and until when all this stays'
sb report by --by county,product --from 2026-09 --to 2026-09
sb keep
sb verify

say 'A copy for the drawer, and a stranger who proves the book without this tool'
sb backup "$out/backup.db"
sb export --out "$out/season.jsonl"
"$py" -I demo/check_chain.py "$out/season.jsonl" || stop "the export does not prove"

say 'A trial of two works, side by side with nothing, in a small book of its own (the firm, and spring)'
season=$book
book="$out/trial.db"
now=2026-05-11T17:00-05:00
sb init
sb load demo/firm/business.toml demo/firm/people.toml demo/firm/customers.toml demo/firm/products.toml demo/firm/equipment.toml
sb trial new dandelion-2026 --site lark-lane-7 --zone back --target dandelion --entry 'A=orlop-3w=1 fl oz/1000 sq ft' \
    --entry 'B=brindle-4l=1 fl oz/1000 sq ft' --entry untreated --blocks 6 --seed 11 --by mo
now=2026-05-12T10:45-05:00
sb close demo/visits/trial.json
now=2026-05-26T09:20-05:00
sb trial rate dandelion-2026 1=60 2=0 3=45 4=40 5=65 6=0 7=70 8=5 9=40 10=0 11=55 12=60 13=55 14=0 15=35 16=45 17=0 18=70 --by mo
now=2026-06-09T09:10-05:00
sb trial rate dandelion-2026 --count 1=14:2 --count 2=13:14 3=80 4=70 5=95 6=0 7=90 8=10 9=65 10=0 11=75 12=90 13=85 14=5 15=60 \
    16=70 17=0 18=95 --by mo
sb trial show dandelion-2026
sb trial show dandelion-2026 --out "$out/trial.pdf"
book=$season

say 'Made'
for file in season.db backup.db season.jsonl notice.pdf notice-es.pdf season-notice.pdf summary-2026.pdf summary-2026.csv summary-2026.json \
    duty.ics mix-card.pdf packet.pdf packet.csv packet.xlsx packet.json random.pdf emergency.pdf compare.pdf answer.pdf neighbour-es.pdf \
    season.pdf season.csv season.xlsx trial.db trial.pdf; do
    [ -s "$out/$file" ] || stop "$out/$file was not made"
    printf '  %s\n' "$out/$file"
done
cat <<END

Try next (the command is $venv/bin/swathbook):
  $venv/bin/swathbook --book $book summary 2026
  $venv/bin/swathbook --book $book season 2026
  $venv/bin/swathbook --book $book last quarry-rd-58
  $venv/bin/swathbook --book $book find --active "brindlac acid" --since 2026-09
  $venv/bin/swathbook pack show us-mn
  $venv/bin/swathbook --book $book close                      (by questions)
  $venv/bin/swathbook --book $book close demo/visits/tired-bare-oz.json

All people, firms, products and numbers in the demo are invented. The product label is the law and wins over this tool.
END
