"""Telling somebody who is not looking at the page: notices, made once, carried until they arrive.

A process of its own, for two reasons. The daemon holds the pins and has no network at all
(`PrivateNetwork=yes` in its unit), and stays so: what can be reached from outside shall not switch
mains. And only what runs apart from the controller can say that the controller has fallen silent.

It reads what daemon and page wrote, and owns the tables of `hangroom.store.notices` and
`hangroom.store.deliveries`. The library that speaks to mail and push services is loaded by a child
alone, one message at a time, 20 s at most.

What is promised. A notice is stored before it is sent, made once however often its fact is looked
at, and on each channel tried until the receiver says that it took it, for three days. A receiver
that says so and drops it cannot be found out; the weekly "still running" is there for that. Where
it is not known whether a message was taken (it says no though it kept it, answers nonsense, or
nothing in time), the message comes again: at least once. It then carries the same Message-ID, on a
webhook the same Idempotency-Key, by which a receiver knows it again; chat and push services offer
no such mark, so there it may stand twice.
"""

# First of all: it keeps sqlite-utils from loading numpy, some 15 MB.
import hangroom.store  # noqa: F401 - imported for its effect on the imports that follow
