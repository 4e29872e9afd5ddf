"""The sentences of a forecast, by code: what happened, what it means, what to do.

A figure in braces is said by `hangroom.product.forecast_words` in the unit its name ends in. Where
a code may come with fewer figures it has several sentences; the first whose figures are all there
is said.
"""

from collections.abc import Mapping
from types import MappingProxyType

from hangroom.product.plan_sentences import PLANS
from hangroom.product.told import Words

# What the forecaster noted while it worked.
REMARKS: Mapping[str, tuple[Words, ...]] = MappingProxyType(
    {
        "weights-rise": (
            Words(
                "The weights rose by {rise_pct} between {from_h} and {to_h}.",
                "Drying sticks do not gain weight: the scale, a mixed-up tag or condensation did.",
                "Zero the scale and weigh again; if the sticks are wet to the touch, air the room.",
            ),
        ),
        "tags-swapped": (
            Words(
                "The weights of {tag} and {other} look exchanged: each goes on where the other"
                " stopped.",
                "The forecast takes them the other way round; the record keeps them as entered.",
                "Look at both tags and correct the weigh-in if they were mixed up.",
            ),
        ),
        "air-missing": (
            Words(
                "No air was measured for {hours} between {from_h} and {to_h}.",
                "What the sticks lost in that time is a guess until the next weight.",
                "If the room stood open or off then, weigh the tagged sticks now.",
            ),
        ),
        "no-air": (
            Words(
                "No air has been measured since the group was hung.",
                "The forecast goes by the air that is wanted, not by the air that was.",
                "Check that the group is entered in the room it hangs in and that a sensor there"
                " is trusted.",
            ),
        ),
        "target-above-hang": (
            Words(
                "The target of {target_pct} of the green weight is above the {hung_pct} at which"
                " the group was hung.",
                "By the record it was drier than its target before it was hung.",
                "Check the target, which counts on green weight, and the weight as hung.",
            ),
        ),
        "target-passed": (
            Words(
                "The group passed its target at about {at_h}.",
                "Every further hour on the rail makes it drier than it was wanted.",
                "Taste a stick; pull the group, or give it a drier target.",
            ),
            Words(
                "The group has passed its target.",
                "Every further hour on the rail makes it drier than it was wanted.",
                "Taste a stick; pull the group, or give it a drier target.",
            ),
        ),
        "hang-weight-assumed": (
            Words(
                "No tagged stick was weighed when it was hung; {ratio} of the green weight is"
                " assumed.",
                "If the cook took more or less than that, every time told here shifts.",
                "Weigh the tagged sticks now, and the next batch as it is hung.",
            ),
        ),
        "diameter-nominal": (
            Words(
                "The thickness is the casing's {mm}, not measured.",
                "Thicker sticks dry more slowly, so the range is wider than it need be.",
                "Put a caliper on a few sticks and enter their mean.",
            ),
        ),
        "diameter-assumed": (
            Words(
                "Neither a caliper nor a casing says how thick the sticks are; {mm} is assumed.",
                "Twice as thick dries about three times as slowly, so every time may be far off.",
                "Enter the casing's size, or put a caliper on a few sticks.",
            ),
        ),
        "water-assumed": (
            Words(
                "No recipe is on record; {water_pct} of water as hung is assumed.",
                "A leaner or wetter mix dries otherwise, so the range is rougher than it looks.",
                "Enter the batch's recipe.",
            ),
        ),
        "few-particles": (
            Words(
                "Only about {effective} of the model's trial runs agree with the weights.",
                "The sticks do what was hardly expected, or a weight is wrong; the range is rough.",
                "Look over the last weights and the air; the next weigh-in will tell more.",
            ),
        ),
        "weight-outside-band": (
            Words(
                "{tag} weighed {weight_g} at {at_h}; between {low_g} and {high_g} was expected.",
                "It may be another stick's weight, a slip in typing, or a stick that dries unlike"
                " the rest.",
                "Is it the right tag? Weigh it again, and correct the weigh-in if it was wrong.",
            ),
        ),
        "air-off-plan": (
            Words(
                "The air was about {temperature_c} and {humidity_pct} humidity, far from the"
                " {planned_c} and {planned_pct} of the plan.",
                "The forecast goes by the plan from now on, as if the room were only now to follow"
                " it.",
                "If the room does not keep its setpoints, see why; else enter the plan that was"
                " kept.",
            ),
        ),
        "weight-impossible": (
            Words(
                "{tag} cannot have weighed {weight_g} at {at_h}.",
                "That is a quarter above its weight as hung, or less than its dry matter; the"
                " forecast leaves it out.",
                "Correct the weigh-in: a decimal point or another stick's weight, most likely.",
            ),
        ),
        "rate-fell": (
            Words(
                "Since {from_h} the group loses {measured_pct_per_day}; at least"
                " {low_pct_per_day} was expected in this air.",
                "A skin may have formed, the fan may stand still, or sticks touch each other.",
                "See that the fan turns and no sticks touch; if the surface is hard and the core"
                " soft, raise the humidity above 80 % for about a day.",
            ),
        ),
        "no-plan": (
            Words(
                "It is not known what the air will be from now on.",
                "The forecast takes it to stay as it was measured last.",
                "Enter the room the group hangs in, and what its air is wanted to be.",
            ),
        ),
    }
)

# What `hangroom.product.forecast_warnings` raises from a forecast.
WARNINGS: Mapping[str, tuple[Words, ...]] = MappingProxyType(
    {
        "target-tonight": (
            Words(
                "Be ready: {group} reaches {target_pct} of its green weight between {from_h} and"
                " {to_h}, most likely at {middle_h}.",
                "That may fall into the night (chance {night_pct}); by morning it may be drier than"
                " wanted.",
                "Pull it before you go to bed, get up for it, or raise the humidity until morning.",
            ),
            Words(
                "Be ready: {group} may reach {target_pct} of its green weight in the night"
                " (chance {night_pct}).",
                "By morning it may be drier than wanted.",
                "Pull it before you go to bed, get up for it, or raise the humidity until morning.",
            ),
        ),
        "overshoot": (
            Words(
                "{group} reaches its {target_pct} of green weight at about {middle_h}, before the"
                " next inspection at {inspection_h}.",
                "Left hanging, it will be at about {then_pct} by then.",
                "Look in earlier, or raise the humidity until you can.",
            ),
        ),
        "target-never": (
            Words(
                "In the air that is planned {group} most likely never reaches {target_pct}"
                " ({never_pct} of the trial runs do not).",
                "It comes to rest with the air above its target, and only waiting costs days.",
                "Lower the humidity, or give it a moister target.",
            ),
        ),
        "drying-fast": (
            Words(
                "{group} dries fast: its surface holds {surface_to_core_ratio} of the water its"
                " core does.",
                "Below {limit_ratio} a dry rim begins to form (engineering judgement, not proven"
                " on sticks).",
                "Raise the humidity by some points, or give it less air.",
            ),
        ),
        "drying-too-fast": (
            Words(
                "{group} dries too fast: its surface holds {surface_to_core_ratio} of the water"
                " its core does.",
                "Below {limit_ratio} the rim hardens and shuts the water in (engineering"
                " judgement, not proven on sticks).",
                "Raise the humidity above 80 % for about a day, and give it less air; hours are"
                " not enough.",
            ),
        ),
        "surface-sealed": (
            Words(
                "{group} has a dry surface on a moist core: water activity {surface_aw} outside,"
                " {core_aw} inside, by the model.",
                "A rim like that shuts the water in (engineering judgement, not proven on sticks).",
                "Raise the humidity above 80 % for about a day, and give it less air; hours are"
                " not enough.",
            ),
        ),
        "rim-ahead": (
            Words(
                "In the air that is planned the surface of {group} will come down to"
                " {least_surface_to_core_ratio} of the water in its core.",
                "Below {limit_ratio} a dry rim forms (engineering judgement, not proven on"
                " sticks).",
                "Plan some points more humidity for the coming days.",
            ),
        ),
        "range-missed": (
            Words(
                "{group} is now expected at {middle_h}; the forecast before said between"
                " {earlier_from_h} and {earlier_to_h}.",
                "Air, weights or plan are not what they were taken for then.",
                "Plan by the new time, and weigh once more before you rely on it.",
            ),
        ),
        "loss-fast": (
            Words(
                "{group} loses {loss_pct_per_day}, more than the {limit_pct_per_day} up to which"
                " a stick of its thickness dries gently.",
                "Kept up, a dry rim forms (engineering judgement, not proven on sticks).",
                "Raise the humidity by some points, or give it less air.",
            ),
        ),
        "loss-too-fast": (
            Words(
                "{group} loses {loss_pct_per_day}, more than the {limit_pct_per_day} at which a"
                " stick of its thickness hardens outside.",
                "The rim may shut the water in (engineering judgement, not proven on sticks).",
                "Raise the humidity above 80 % for about a day, and give it less air; hours are"
                " not enough.",
            ),
        ),
    }
)

ALL_WORDS: Mapping[str, tuple[Words, ...]] = MappingProxyType({**REMARKS, **WARNINGS, **PLANS})
