"""The sentences of a humidity plan, by code: what it reaches, what it costs, what to do."""

from collections.abc import Mapping
from types import MappingProxyType

from hangroom.product.told import Words

_LANDING = "{group} is most likely ready at {middle_h}"
_OR_NEVER = "{group} is most likely ready at {middle_h}; {never_pct} of the trial runs never are"
_RANGE = "{group} is most likely ready at {middle_h}, 8 times in 10 between {from_h} and {to_h}"

PLANS: Mapping[str, tuple[Words, ...]] = MappingProxyType(
    {
        "plan-lands": (
            Words(
                f"{_RANGE}.",
                "That is when it is wanted.",
                "Weigh daily: each weight sharpens the plan.",
            ),
            Words(
                f"{_OR_NEVER}.",
                "That is when it is wanted.",
                "Weigh daily: each weight sharpens the plan.",
            ),
        ),
        "plan-gently": (
            Words(
                f"{_RANGE}.",
                "That is the soonest while its surface keeps at least"
                " {least_surface_to_core_ratio} of the water its core holds.",
                "Weigh daily: each weight sharpens the plan.",
            ),
            Words(
                f"{_OR_NEVER}.",
                "That is the soonest while its surface keeps at least"
                " {least_surface_to_core_ratio} of the water its core holds.",
                "Weigh daily: each weight sharpens the plan.",
            ),
        ),
        "plan-bystander": (
            Words(
                "{group} hangs in the same air: under this plan it is most likely ready at"
                " {middle_h}, as things stand at {before_h}.",
                "Nothing was asked for it, so the plan only keeps its surface moist enough.",
                "If that does not suit, say when it is wanted, or hang it in another room.",
            ),
            Words(
                "{group} hangs in the same air: under this plan it is most likely ready at"
                " {middle_h}.",
                "Nothing was asked for it, so the plan only keeps its surface moist enough.",
                "If that does not suit, say when it is wanted, or hang it in another room.",
            ),
        ),
        "plan-late-room": (
            Words(
                f"{_LANDING}, {{hours}} later than wanted.",
                "This is the nearest it can: the room's humidity may be set no lower than"
                " {lowest_pct}.",
                "Wait for it, choose a moister target, or lower the room's limit if the room can"
                " bear that.",
            ),
        ),
        "plan-late-surface": (
            Words(
                f"{_LANDING}, {{hours}} later than wanted.",
                "This is the nearest it can: in drier air its surface would fall below"
                " {limit_ratio} of the water in its core, and a dry rim would form.",
                "Wait for it, or choose a moister target.",
            ),
        ),
        "plan-could-hurry": (
            Words(
                "With a drier surface, down to {limit_ratio} of the water in its core, {group}"
                " could be ready at {middle_h}.",
                "The rim may then turn hard and the core stay soft (engineering judgement, not"
                " proven on sticks).",
                "If you take that, lower the humidity by hand and look at the sticks daily.",
            ),
        ),
        "plan-early-room": (
            Words(
                f"{_LANDING}, {{hours}} earlier than wanted.",
                "This is the nearest it can: the room's humidity may be set no higher than"
                " {highest_pct}.",
                "Pull it when it is ready and keep it wrapped and cold, or choose a drier target.",
            ),
        ),
        "plan-late-shared": (
            Words(
                f"{_LANDING}, {{hours}} later than wanted.",
                "It shares the room with a group that wants moister air; this plan makes what all"
                " miss as small as it can be.",
                "Move one of the groups to another room, or change when it is wanted.",
            ),
        ),
        "plan-early-shared": (
            Words(
                f"{_LANDING}, {{hours}} earlier than wanted.",
                "It shares the room with a group that wants drier air; this plan makes what all"
                " miss as small as it can be.",
                "Move one of the groups to another room, or pull this one when it is ready.",
            ),
        ),
        "plan-never": (
            Words(
                "Under this plan {group} most likely never reaches its target ({never_pct} of the"
                " trial runs do not).",
                "Even so it is the nearest that the limits allow.",
                "Choose a moister target, or let the room be drier.",
            ),
        ),
        "plan-not-gentle": (
            Words(
                "Even at {highest_pct}, the moistest this room may be set to, the surface of"
                " {group} falls to {least_surface_to_core_ratio} of the water in its core.",
                "Below {limit_ratio} a dry rim forms (engineering judgement, not proven on"
                " sticks).",
                "Give it less air: run the fan less, or hang it out of the stream.",
            ),
        ),
        "plan-arrived": (
            Words(
                "{group} has reached its target.",
                "There is nothing left to plan for it.",
                "Pull it, or give it a drier target.",
            ),
        ),
        "plan-alone": (
            Words(
                "With the room to itself {group} would want {humidity_pct}.",
                "The further the groups of a room lie apart in this, the more each of them misses.",
                "Hang them in different rooms where you can.",
            ),
        ),
        "plan-costs-surface": (
            Words(
                "It costs: the surface of {group} comes down to {least_surface_to_core_ratio} of"
                " the water in its core instead of {before_ratio}.",
                "The rim gets that much drier and firmer than as the room is set now.",
                "Look at the sticks daily; end the plan if the rim turns hard.",
            ),
        ),
        "plan-costs-window": (
            Words(
                "It costs: the 80 % range of {group} grows to {hours} from {before_hours}.",
                "Slower drying is harder to foretell.",
                "Weigh daily: each weight narrows it again.",
            ),
        ),
        "plan-costs-water": (
            Words(
                "It costs: the room is held {more_pct} moister than it is now.",
                "The humidifier runs more, and its tank empties sooner; by how much is not known.",
                "Look at the tank daily.",
            ),
        ),
        "plan-costs-mould": (
            Words(
                "It costs: the room is held at up to {humidity_pct}.",
                "Mould has an easy time in such air (common practice, no source).",
                "Look at the surfaces daily, and stir the air.",
            ),
        ),
        "plan-ended-by-hand": (
            Words(
                "{by} set the humidity by hand {at}, and that ended the plan.",
                "The room keeps that setpoint; nothing moves it by plan any more.",
                "Ask for a new plan if you want one.",
            ),
        ),
        "plan-ended": (
            Words(
                "{by} ended the plan {at}.",
                "The room keeps the setpoint it had; nothing moves it by plan any more.",
                "Ask for a new plan if you want one.",
            ),
        ),
        "plan-done": (
            Words(
                "The plan ended {at}: no group of it is left to dry.",
                "The room keeps the setpoint it had.",
                "Look whether that suits what hangs there now.",
            ),
        ),
        "plan-refused": (
            Words(
                "The plan ended {at}, because its setpoint was refused ({by}).",
                "The room keeps the setpoint it had; nothing moves it by plan any more.",
                "Ask for a new plan; it will keep to the limits as they are now.",
            ),
        ),
    }
)
