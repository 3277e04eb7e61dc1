"""What is believed of antennas before a log is looked at."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["HealthBeliefs"]


@dataclass(frozen=True, slots=True)
class HealthBeliefs:
    """Numbers by which an antenna is called dead; those of ``antennas.health`` under the same names.

    Attributes
    ----------
    silence_h : float
        A shorter silence of an antenna is not looked at, in hours, unless a marker tag beats there.
    long_h : float
        A longer silence that nothing explains is unknown, in hours.
    bout_min : float
        What a bird does at the entrance within so many minutes is one piece of evidence.
    sure : float
        Natural logarithm of the evidence (Bayes factor) from which an antenna is called dead.
    silences_day : float
        Silences of an antenna a day for which `sure` is meant: of those that last for days there are at most
        so many fewer as they last longer.
    night : float
        The most that one night can tell, as a natural logarithm: nights may be odd in ways nobody thought of.
    odd_bird : float
        Share of nights in which a bird keeps to one antenna without a reason known.
    odd_start, odd_end : float
        Chance that a bird begins to cross both antennas just as a silence of one ends that opens the log, and
        that it ceases to for good.
    not_yet : float
        Share of its bouts that both antennas hear of a bird that looks or rests, and does not cross yet.
    sure_start : float
        As `sure`, for a silence that opens the log: that an antenna was not ready is commoner.
    never_bouts, never_birds, never_nights : int
        An antenna that never heard anything is dead where the other heard so many birds so many times each,
        in so many nights.
    efficiency, worth : float
        Efficiency of an antenna before anything was heard, and how many crossings that is worth.
    most : float
        The most crossings that the mean of all antennas is worth to one of them.
    unlike : float
        How many crossings of one night are worth independent ones: the precision of a beta distribution of
        nights about the mean.
    at_most : float
        However well a bird is heard, any one bout may have been a mere look, which crosses one antenna only.
    pass_s, pass_beside_s : float
        A longer group is a rest, in seconds, and one heard so near to a rest may still belong to it.
    pass_row : int
        More groups of a bird that follow each other so near are a rest, too.
    turns_worth, turns_missed, turns_most : float
        Pairs of crossings that are believed beforehand, share of them between which one was missed, and the
        most that this share can be said to be.
    near : int
        So many groups of a bird before and after a silence tell how well it is usually heard.
    near_least : int
        With fewer the bird tells nothing.
    rest_s : float
        A longer bout is a rest, in seconds; three times as long, one beyond all doubt.
    at_once : float
        How far the first bouts after a silence that opens the log may fall behind all near ones, as a share.
    alike : float
        How far two rates of one bird may differ and be the same, as a share.
    one_stay : float
        Chance that the bouts of a night are one stay on one side of the entrance, were there hardly any.
    quiet_h : float
        A shorter silence of both antennas is not looked at, in hours.
    alone_part : float
        A dead spell of one antenna that no marker tells covers so much of a night's usual bouts, in nights.
    night_part : float
        Nor one in which less of a night's bouts is usual.
    dead : float
        Chance that a logger falls silent for a night or more in any one night.
    dead_worth : float
        How many nights that belief is worth against what other loggers of the log did.
    dead_most : float
        The most that it becomes.
    lasts : float
        Chance that it is silent for one more night.
    both_dead : float
        Share of antennas told dead by a marker whose whole logger was.
    dead_from : float
        Probability from which the whole logger is called dead.
    dead_from_end : float
        The same at an end of the log.
    perhaps_from : float
        Probability from which it is at least not called awake.
    around, around_least : int
        Nights before and after that are looked at, and that there must be.
    away : float
        Share of nights in which a bird that is about does not come, before a log was looked at.
    stays : float
        Chance that it stays away for one more night.
    away_yet : float
        Absences that are believed of each bird beside those of all birds, and what was seen of it.
    worth_habits : float
        Nights that the habits of all birds are worth for one bird.
    worth_away : float
        Nights that how often all birds stay away is worth for one bird.
    nobody : float
        Share of nights in which no bird of a box that is in use is heard, for a reason of that box.
    storm : float
        Share of nights in which none of any box is.
    still_nobody : float
        Chance that a night without any bird follows such a night.
    rest_kept : float
        Of nights on which no bird of a box comes, how many begin and end with a rest of the birds.
    rest_part : float
        What is so near to a rest is heard beside it, in nights.
    neighbour_bouts : float
        Bouts that must be usual at a neighbouring box for its silence to tell of a storm.
    edge_part : float
        So many nights at either end of a silence are not asked of neighbours: birds keep no common time.
    elsewhere : float
        Chance that a bird that stays away from its box for a night is heard at another box of the log, where
        it is heard there at all.
    few : float
        A neighbour that hears less of what is usual, as a share, is as good as silent.
    often : int
        More silences of one box, with no neighbour to ask, are weather.
    in_storm, anyhow : float
        Chances that a neighbour is silent in a storm, and otherwise.
    leaves, leaves_worth : float
        Chance that all birds of a box leave at once, or that its logger was taken down, in any one night, and
        how many nights that belief is worth against the other boxes of the log.
    together : float
        Chance that one more bird begins, or ceases, to use a box in the very night in which another does.
    there : float
        A bird that is silent by chance more often than so is not missed: it came seldom, or had left before.
    mid_night : float
        Chance that they do so in the midst of a night.
    hidden : float
        Nights of which so much, by what usually happens, lies in a silence tell nothing of habits.
    spread, spread_least, spread_most : float
        How much the nights of a bird differ before a log was looked at, as the variance of their means over
        the square of the mean, and its bounds.
    seldom : float
        A bird that by chance does not come in more of its nights comes seldom: a night without it is one like
        others, and no absence.
    pauses_longest : int
        So many of the longest pauses of a bird tell how likely a longer one is.
    reads_least : int
        A tag with fewer reads at a box is not counted: it may be noise.
    sleep_h : float
        A shorter sleep is not looked for, in hours.
    sleep_nights : int
        Nights that must show it.
    sleep_sure : float
        Natural logarithm of the evidence for a sharp edge from which it is called sleep.
    sleep_lesser : float
        The same of the edge that is less sharp, where no marker tag beats.
    sleep_alike : float
        Share of the longer of two silences beside a marker that both have of the hours of a day, from which
        they are the same sleep.
    hidden_crossed : float
        Share of the pauses of a bird over a sleep in which it crossed, if the sleep hides what it does.
    sleep_hides : float
        Natural logarithm of the evidence of crossings hidden in it from which it is no rest of the birds.
    edge_min, edge_near_min : float
        Minutes beside an edge that are looked at, and those right beside it.
    beat : float
        Share of beats of a marker tag that an antenna hears.
    beats_least : int
        Fewer beats make no marker.
    season_d : float
        An end of the whole log that is further from the log of a box, in days, is not the end of that box.
    """

    silence_h: float
    long_h: float
    bout_min: float
    sure: float
    silences_day: float
    night: float
    odd_bird: float
    odd_start: float
    odd_end: float
    not_yet: float
    sure_start: float
    never_bouts: int
    never_birds: int
    never_nights: int
    efficiency: float
    worth: float
    most: float
    unlike: float
    at_most: float
    pass_s: float
    pass_beside_s: float
    pass_row: int
    turns_worth: float
    turns_missed: float
    turns_most: float
    near: int
    near_least: int
    rest_s: float
    at_once: float
    alike: float
    one_stay: float
    quiet_h: float
    alone_part: float
    night_part: float
    dead: float
    dead_worth: float
    dead_most: float
    lasts: float
    both_dead: float
    dead_from: float
    dead_from_end: float
    perhaps_from: float
    around: int
    around_least: int
    away: float
    stays: float
    away_yet: float
    worth_habits: float
    worth_away: float
    nobody: float
    storm: float
    still_nobody: float
    rest_kept: float
    rest_part: float
    neighbour_bouts: float
    edge_part: float
    elsewhere: float
    few: float
    often: int
    in_storm: float
    anyhow: float
    leaves: float
    leaves_worth: float
    together: float
    there: float
    mid_night: float
    hidden: float
    spread: float
    spread_least: float
    spread_most: float
    seldom: float
    pauses_longest: int
    reads_least: int
    sleep_h: float
    sleep_nights: int
    sleep_sure: float
    sleep_lesser: float
    sleep_alike: float
    hidden_crossed: float
    sleep_hides: float
    edge_min: float
    edge_near_min: float
    beat: float
    beats_least: int
    season_d: float
