"""What a comparison says: one group for each set of products, and what tells two of them apart."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date

    from records.domain.efficacy import Point
    from records.domain.follow_up import Look
    from records.services.comparing.statistics import Interval, Test

# Looks are put to the nearest of these days after treatment; in the middle of two, to the later one. The tool's own
# choice: the usual days of looks (common practice) with an early one and late ones added.
WINDOWS = (1, 3, 7, 14, 21, 28, 42, 56, 84, 112)
LATEST = 140  # days after treatment; a look beyond stands in no window
LEVELS = (Fraction(50), Fraction(80))  # per cent control, the days to which are told
FULL = Fraction(100)


@dataclass(frozen=True, slots=True)
class Course:
    """What became of one treatment: its looks by day."""

    serial: str
    index: int
    day: date
    points: tuple[Point, ...]  # one for each day looked at: the median of that day
    ratings: int
    raters: tuple[str, ...]
    injury: Fraction | None  # the worst that was seen
    cost: Fraction | None  # per 1,000 sq ft
    unpriced: str  # why there is no cost; "" where there is one
    trial: str
    look: Look  # when its mode of action is looked at
    is_cut: bool = False  # whether later ratings do not count, since the ground was treated again
    rates: tuple[tuple[str, Fraction], ...] = ()  # of each weed killer by name, in base units per sq ft

    def ripe_from(self, until_days: int | None = None) -> Fraction:
        """Return from which day on a rating tells the final control: it lies nearest to the last look.

        Args:
            until_days: cuts later looks off; None: the last look of the mode of action.
        """
        within = [day for day in self.look.days if until_days is None or day <= until_days] or self.look.days[:1]
        return Fraction(sum((0, *within)[-2:]), 2)

    def final(self, until_days: int | None) -> Point | None:
        """Return the last look that is old enough to judge by; None: there is none yet."""
        ripe = self.ripe_from(until_days)
        fits = [one for one in self.points if one.days >= ripe and (until_days is None or one.days <= until_days)]
        return fits[-1] if fits else None

    @property
    def is_late(self) -> bool:
        """Tell whether nobody looked about the day of the first look, so that days to a control are read off a wait."""
        usual = self.look.days
        return len(usual) > 1 and bool(self.points) and 2 * self.points[0].days >= usual[0] + usual[1]


@dataclass(frozen=True, slots=True)
class SiteResult:
    """One site with a set of products: however often it was treated and rated, it counts once."""

    site: str
    address: str
    courses: tuple[Course, ...]
    looks: tuple[tuple[int, Fraction], ...]  # window, median control
    days_to: tuple[Fraction | None, ...]  # for each of LEVELS; None: not reached, or open
    open_at: tuple[Fraction | None, ...]  # for each of LEVELS: it was not reached by that day, and later is not known
    final: Fraction | None  # None: not judged
    final_day: Fraction | None  # days after treatment of that last look
    injury: Fraction | None
    cost: Fraction | None

    @property
    def has_days(self) -> bool:
        """Tell whether days to a control say something: of a pre-emergence product they do not."""
        return any(course.points and not course.look.is_early for course in self.courses)


@dataclass(frozen=True, slots=True)
class Summary:
    """Values of sites summed up; None stands for "never" among days.

    Where a control was not reached by the last look but may be yet, `open_at` has the day of that look. The median is
    None, too, where it depends on what becomes of those.
    """

    values: tuple[Fraction | None, ...]
    median: Fraction | None
    low: Fraction | None
    high: Fraction | None
    quarters: tuple[Fraction, Fraction] | None  # from four values on
    interval: Interval | None
    open_at: tuple[Fraction, ...] = ()
    is_open: bool = False  # whether the median cannot be told yet
    between: tuple[Fraction, Fraction] | None = None  # in which it lies then; None: nobody knows how long it may be

    @property
    def count(self) -> int:
        """Return how many sites it stands on."""
        return len(self.values) + len(self.open_at)

    @property
    def never(self) -> int:
        """Return at how many sites it was not reached."""
        return sum(value is None for value in self.values)


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """Control of a group in one window."""

    days: int
    sites: int
    median: Fraction
    low: Fraction
    high: Fraction


@dataclass(frozen=True, slots=True)
class Group:
    """All that is known of one set of products against the target."""

    key: tuple[str, ...]
    name: str
    sites: tuple[SiteResult, ...]
    curve: tuple[CurvePoint, ...]
    days_to: tuple[Summary, ...]  # for each of LEVELS
    final: Summary
    final_days: Fraction | None  # median day of the last looks
    injury: Summary
    cost: Summary  # per 1,000 sq ft
    unpriced: tuple[str, ...]  # why some have no cost
    control_days: Fraction | None  # area under the curve up to the day all groups share, per cent-days
    raters: tuple[str, ...]
    years: tuple[int, ...]
    turf: tuple[str, ...]
    methods: tuple[str, ...]

    @property
    def ratings(self) -> int:
        """Return how many ratings it stands on."""
        return sum(course.ratings for site in self.sites for course in site.courses)

    @property
    def judged_from(self) -> tuple[int, ...]:
        """Return the days of the last look of the modes of action, each once."""
        return tuple(sorted({course.look.days[-1] for site in self.sites for course in site.courses}))

    @property
    def not_judged(self) -> tuple[SiteResult, ...]:
        """Return the sites that were rated, but not so late that it tells the final control."""
        return tuple(one for one in self.sites if one.looks and one.final is None)

    @property
    def treated_again(self) -> tuple[SiteResult, ...]:
        """Return those of them whose ground was treated again, so that no later rating tells."""
        return tuple(one for one in self.not_judged if any(course.is_cut for course in one.courses))

    @property
    def is_early(self) -> bool:
        """Tell whether it works before weeds come up, so that no days to a control are told."""
        return any(one.looks for one in self.sites) and not any(one.has_days for one in self.sites)

    @property
    def treatments(self) -> int:
        """Return how many treatments it stands on."""
        return sum(len(site.courses) for site in self.sites)

    @property
    def cost_per_control_day(self) -> Fraction | None:
        """Return the cost of a day of full control on 1,000 sq ft: cost over area under the curve / 100.

        A ratio of our own: the area under the curve of control is that of disease progress turned round (Shaner and
        Finney 1977), 100 per cent-days are a day on which all of the weed is down. None where either is not known.
        """
        if self.cost.median is None or not self.control_days or self.control_days < 0:
            return None
        return self.cost.median / (self.control_days / FULL)


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the sites say of two groups in one respect."""

    what: str  # "days to 80 %" or "final control"
    first: str  # name of the better one by its median, or as they stand
    second: str
    sizes: tuple[int, int]
    difference: Fraction | None  # of the medians, never negative; None: one of them is not reached
    test: Test | None
    sentence: str
    open: int = 0  # sites of both where it is not known yet


@dataclass(frozen=True, slots=True)
class Comparison:
    """All groups for a target."""

    target: str
    since: date | None
    until: date | None
    until_days: int | None  # None: final control is that at the last look of the mode of action
    shared_day: int | None  # up to which the areas under the curves reach
    groups: tuple[Group, ...]  # fastest first, then best
    verdicts: tuple[Verdict, ...]
    cautions: tuple[str, ...]
