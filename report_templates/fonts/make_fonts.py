"""Make the two font files of this folder from the Noto families; README.md says how to call it.

ReportLab draws one glyph per code point from TrueType outlines and reads no layout tables, so those and
the hinting are dropped. Noto Sans has no arrows, mathematical signs or check marks; they are copied in from
its sister families, which share its 1000 units per em and its licence.
"""

import sys
from pathlib import Path

from fontTools import subset
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont

# First and last code point. Left out on purpose: controls, zero-width and direction-changing
# characters (200B-200F, 2028-202E, 2060-206F), which are invisible and could disguise a text.
RANGES = (
    (0x0020, 0x007E),  # Basic Latin
    (0x00A0, 0x024F),  # Latin-1, Latin Extended-A and -B
    (0x02B0, 0x036F),  # modifier letters, combining marks
    (0x0370, 0x03FF),  # Greek
    (0x0400, 0x052F),  # Cyrillic and its supplement
    (0x1E00, 0x1FFF),  # Latin Extended Additional (Vietnamese), Greek Extended
    (0x2000, 0x200A),  # spaces
    (0x2010, 0x2027),  # punctuation
    (0x202F, 0x205F),  # punctuation
    (0x2070, 0x209C),  # superscripts and subscripts
    (0x20A0, 0x20BF),  # currency
    (0x2100, 0x214F),  # letter-like signs
    (0x2150, 0x215F),  # fractions
    (0x2189, 0x2189),  # zero thirds
    (0xFB01, 0xFB02),  # fi and fl
    (0xFFFD, 0xFFFD),  # replacement character
)
BORROWED = {
    "NotoSansMath-Regular.ttf": "←↑→↓↔⇒⇔∂∆∏∑−∓∕∙√∞∩∫≈≠≡≤≥≪≫◊",
    "NotoSansSymbols2-Regular.ttf": "■□▲△▼▽●○☐☑☒✓✔✗✘",
}
DROPPED = ["GSUB", "GPOS", "GDEF", "DSIG", "STAT", "gasp"]


def shrink(source: Path) -> TTFont:
    """Return Noto Sans cut down to RANGES, without hinting and layout tables."""
    options = subset.Options()
    options.hinting = False
    options.layout_features = []
    options.notdef_outline = True
    options.name_IDs = ["*"]
    options.drop_tables += DROPPED
    options.recalc_timestamp = False
    font = subset.load_font(str(source), options)
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=[c for first, last in RANGES for c in range(first, last + 1)])
    cutter.subset(font)
    return font


def borrow(font: TTFont, source: Path, characters: str) -> None:
    """Copy the outlines of characters from source into font."""
    donor = TTFont(source)
    if donor["head"].unitsPerEm != font["head"].unitsPerEm:
        sys.exit(f"{source.name}: other units per em than the font it would go into")
    names, glyphs, order = donor.getBestCmap(), donor.getGlyphSet(), font.getGlyphOrder()
    for character in characters:
        code = ord(character)
        if code in font.getBestCmap():
            continue
        recording = DecomposingRecordingPen(glyphs)
        glyphs[names[code]].draw(recording)
        pen = TTGlyphPen(None)
        recording.replay(pen)
        name = f"uni{code:04X}"
        order = [*order, name]
        font.setGlyphOrder(order)
        font["glyf"][name] = glyph = pen.glyph()
        glyph.recalcBounds(font["glyf"])
        font["hmtx"][name] = donor["hmtx"][names[code]]
        for table in font["cmap"].tables:
            if table.isUnicode():
                table.cmap[code] = name


def main(source: Path, target: Path) -> None:
    """Write both weights from the folder source into the folder target."""
    for weight in ("Regular", "Bold"):
        font = shrink(source / f"NotoSans-{weight}.ttf")
        for name, characters in BORROWED.items():
            borrow(font, source / name, characters)
        font.save(target / f"NotoSans-{weight}.ttf")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(__file__).parent)
