"""What each key of a sheet means, in short, for the page on which a sheet is edited.

docs/sheets.md says it at length; a device in a darkroom often has no internet to read it by.
"""

from __future__ import annotations

#: Headings, each with its keys and what they mean.
GROUPS: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    (
        "At the head",
        (
            ("format", "1, the version of the format. Needed."),
            ("name", "What the display calls it: 1 to 16 letters A to Z, digits, spaces. Needed."),
            ("title", "One sentence for people. Needed."),
            ("reels", "Reels in the tank, 1 to 8."),
            ("film", "What is on a reel: 135-36, 135-24, 120, 220, 127, 4x5, 5x7 or 8x10."),
            ("films_per_reel", "Pieces of film on each reel."),
            ("vessel", "What the developer is tempered in: plastic, glass or steel."),
            ("tank", "What the film is developed in: plastic or steel."),
            ("tank_stands", "Where the tank stands while it develops: room or bath."),
            ("cautions", "Sentences on the display while nothing runs."),
            ("step", "The steps, each under [[step]]: temper, develop, …, hang. Needed."),
        ),
    ),
    (
        "In a [[step]]",
        (
            ("kind", "temper, develop, stop, fix, rinse, clear, wash, wet or hang. Needed."),
            ("solution", "What is poured in, at most 21 characters."),
            (
                "seconds",
                (
                    'From the begin of pouring in to the empty tank: 450, or "7:30" with quotation '
                    "marks. With [step.development] it is that time and fill_seconds together."
                ),
            ),
            ("celsius", "Temperature; in the temper step it is the target."),
            ("tolerance_celsius", "How far off is still good."),
            ("allowed_step_celsius", "Largest jump of temperature into this bath."),
            ("volume_millilitres", "How much is poured."),
            ("agitation", "How the tank is moved, under [step.agitation]."),
            ("fill_seconds", "How long pouring in takes; 10 if left out."),
            ("drain_seconds", "How long before the end pouring out begins; 10 if left out."),
            ("afterwards", "The solution goes: discard, return (to its bottle) or collect."),
            ("prepare", "What to do for the next step, at most 21 characters."),
            ("prepare_seconds", "How long before the end that is said; 60 if left out."),
            ("can_wait", "true where film may wait in water, in rinse and wash only."),
            ("grace_seconds", "So long after the end the next pour is still on time."),
            ("development", "How the time follows the temperature, under [step.development]."),
            ("cautions", "Sentences on the display during the step."),
        ),
    ),
    (
        "In [step.agitation]",
        (
            ("pattern", "intermittent, continuous or none. Needed."),
            ("gentle", "true where the tank is to be moved gently."),
            ("first_seconds", "How long it is moved at first, from the full tank."),
            ("for_seconds", "How long each later time."),
            ("every_seconds", "How often, counted from the begin of the step."),
        ),
    ),
    (
        "In [step.development], times from the full tank",
        (
            ("nominal_celsius", "The celsius of the temper step, again. Needed."),
            ("lowest_celsius", "Below it no time is given. Needed."),
            ("highest_celsius", "Above it no time is given. Needed."),
            ("source", "Where the times are from, or teacher's own. Needed."),
            ("table", 'Temperature and time in rows, such as [["20C", "7:00"], ["24C", "5:30"]].'),
            ("nominal_time", 'In place of a table: the time at nominal_celsius, such as "7:00".'),
            ("ten_degrees", "Beside nominal_time: how many times longer ten degrees cooler."),
            ("ten_degrees_low", "The least of it that the source gives."),
            ("ten_degrees_high", "The most of it that the source gives."),
            ("joules_per_mole", "In place of ten_degrees: energy of activation."),
            ("rounding_seconds", "The step to which the source prints its times."),
            ("short_seconds", "A shorter time is given with a warning; 300 if left out."),
            ("outside_celsius", "How far beyond its table a time may be given, with a warning."),
            ("may_adjust_end", "true where the end may follow the tank's temperature."),
            ("earliest", "The end not before this part of the time; 0.8 if left out."),
            ("latest", "The end not after this part of the time; 1.25 if left out."),
            ("factor", "Factors on the time: why, times, basis, source."),
        ),
    ),
)
