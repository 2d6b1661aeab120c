"""What people might write, in wording of our own, with the findings that must be heard in it.

Each row: the words; what must be heard ('finding=answer', spaces between); what must not be
heard after a '!' (a finding id). An empty expectation: nothing may be heard at all.
"""

SAID = """
the tweeter is dead but the bass is fine | units_play=one_silent
no sound from the woofer | units_play=one_silent
the woofer flaps back and forth slowly | cone_moves=moves
one tube missing when it arrived | seated=missing
there's an empty socket next to the big tubes | seated=missing
it blows the fuse after a couple of hours | fuse_blows=after_hours
the fuse blows straight away | fuse_blows=at_once
the hum changes when I turn the transformer | hum_by_iron=changes hum=yes
it makes a funny noise | noise_here=yes !crackle
some weird noise I can't describe | noise_here=yes
makes a loud crackling noise | crackle=yes !noise_here
I replaced the filter caps and it made no difference | renewed=no_help newer_work=some
new valves made no difference | known_good=no_change
swapped the rectifier tube no change | known_good=no_change
all voltages are high | b_plus=high
same thing on another amp | source_elsewhere=same_trouble
the crackle comes back when I turn the selector | crackle=yes worked=changed
it hums | hum=yes
constant drone out of the cab | hum=yes
It drones like a fridge, all day | hum=yes
there is a hmmm even with the volume at zero | hum=yes
humm that never stops | hum=yes
never stops humming | hum=yes
hums whatever I do with the volume | hum=yes hum_control=none
the hum goes up when I turn it up | hum=yes hum_control=volume
a 100 cycle hum | hum_rate=double hum=yes
120 Hz hum in both channels | hum_rate=double
deep mains hum | hum_rate=mains hum=yes
rough hum, gets worse as it warms | hum=yes
ground loop I think | hum_no_source=stops_unplugged
an earth loop as my mate says | hum_no_source=stops_unplugged
hum stops when I touch the chassis | hum_touch=lessens hum=yes
no hum | hum=no
there is no hum at all | hum=no
no trace of a hum | hum=no
it doesn't hum, it buzzes | hum=no buzz=yes
doesn't hum or buzz | hum=no buzz=no
no sound just hum | sound=silent hum=yes
I can't hear any hum | hum=no
without any hum | hum=no
no hum, no buzz, no crackle | hum=no buzz=no crackle=no
stopped humming last week | hum=no
nasty buzz like a wasp | buzz=yes
buzzing all the time | buzz=yes
crackles when I touch the knob | crackle=yes
it crackles when I turn the volume | control_feel=scratchy
the treble pot is scratchy | control_feel=scratchy
noisy volume control | control_feel=scratchy
the knob has a dead spot | control_feel=dead_spots
volume does nothing | control_feel=no_effect
krackle and spitting | crackle=yes
sounds like bacon frying and it spits | crackle=yes
a campfire in the speaker, crackling | crackle=yes
static on the left | crackle=yes
hisses like a waterfall | hiss=yes
loads of hiss | hiss=yes
no hiss to speak of | hiss=no
it squeals when I turn up | howl=yes
whistles at high volume | howl=yes
screaming feedback noise | howl=yes
doesn't whistle | howl=no
putt putt putt from the speaker | motorboat=yes
chugs like a tractor | motorboat=yes
motorboating | motorboat=yes
random pops and loud cracks | bangs=yes
sharp bangs out of nowhere | bangs=yes
it bangs when I switch on | switch_bang=loud
goes quiet after ten minutes | happens=when_warm sound=weak
fades away after half an hour | happens=when_warm
dies after twenty mins | happens=when_warm
plays fine cold, packs up once hot | happens=when_warm
gets quieter after a while | happens=when_warm
only when cold | happens=when_cold
comes and goes | happens=comes_and_goes
it has moods, works on and off | happens=comes_and_goes
works every now and then | happens=comes_and_goes
sometimes it crackles | happens=comes_and_goes crackle=yes
only in damp weather | happens=in_damp
worse when it rains | happens=in_damp
only at night | happens=at_hours
when I thump it | noise_started_by=knock
if I tap the top it stops | noise_started_by=knock
wiggle the lead and it comes back | noise_started_by=moving_a_lead
smells like fish | smell=fishy
there's a fishy stink | smell=fishy
smells burnt | smell=burnt
a smell of burning | smell=burnt
stinks of burnt rubber | smell=burnt
an acrid electrical odour | smell=burnt
smells of hot wax | smell=wax
like a melted candle | smell=wax
smells of garlic | smell=garlic
reeks of rotten cabbage | smell=garlic
smells of burning dust | smell=hot_dust
swimming pool smell | smell=ozone
lights come on but nothing | sound=silent powers_up=yes
the valves glow but no sound | sound=silent
tubes are lit, nothing comes out | sound=silent
tubes lit up yet silent | sound=silent
left side dead | sound=silent
left channel is gone | sound=silent
right hand channel went silent | sound=silent
the right chanel is dead | sound=silent
not a peep | sound=silent
it won't play any more | sound=silent
conked out in the middle of a record | onset=sudden
completely dead | powers_up=nothing
won't turn on | powers_up=nothing
doesn't come on at all | powers_up=nothing
flip the switch and nothing, no lights | powers_up=nothing
dead as a doornail | powers_up=nothing
stays dark | powers_up=nothing
very weak | sound=faint
weak | sound=weak
feeble sound on one side | sound=weak
not as loud as it was | sound=weak
no punch any more | sound=weak
one channel quieter than the other | sound=weak
have to crank it | sound=weak
you can hardly hear it | sound=faint
I can only just hear it with my ear to the speaker | sound=faint
distorts | sound=distorted
it distrorts when loud | sound=distorted
sounds fuzzy | sound=distorted
sounds awful | sound=distorted
breaks up when played loud | sound=distorted
farts out on low notes | sound=distorted
like a torn speaker | sound=distorted
clean at first then distorts after fifteen minutes | sound=distorted distorts_when=after_minutes
only distorts loud | distorts_when=when_loud
no distortion | !sound
no bass | tone_balance=thin
sounds tinny and thin | tone_balance=thin
dull, like under a blanket | tone_balance=dull
no treble | tone_balance=dull
chokes on low notes | bass_notes=chokes
there's a ghost note under each note | ghost_note=yes
still plays with the volume at zero | sound_at_zero=music
picks up a radio station | radio=yes
fuse blows at once | fuse_blows=at_once
blows the fuse at once | fuse_blows=at_once
blows fuses instantly | fuse_blows=at_once
eats fuses | fuse_blows=at_once
the fuse goes as soon as I switch on | fuse_blows=at_once
the fuse blew after twenty minutes | fuse_blows=after_minutes
blows the fuse when it warms up | fuse_blows=warming_up
the fuse blows now and then | fuse_blows=now_and_then
fuse pops when I leave standby | fuse_blows=on_standby
trips the breaker | trips_breaker=at_switch_on
knocks out the RCD | trips_breaker=at_switch_on
the gfci trips when I plug it in | trips_breaker=plugged_in
HT fuse blows | ht_fuse_blows=at_once
one of the big tubes is red hot | plate_colour=red
one valve glows cherry red | plate_colour=red
the anode of V4 is orange | plate_colour=red
red plating after ten minutes | plate_colour=red
plates don't glow red | plate_colour=dark
the rectifier is glowing red | rectifier_plates=red
one tube doesn't glow | heater=dark
one of the small valves isn't lit | heater=dark
a bottle stays cold | heater=dark
the tubes barely glow | heater=dim
purple glow inside | inner_glow=violet_between
blue glow on the glass | inner_glow=blue_on_glass
the silver has turned white | getter=white
milky top on V2 | getter=white
sparks inside the rectifier | arcs=after_seconds
cracked valve | glass=cracked
the transformer gets too hot to touch | transformer_heat=too_hot
mains transformer buzzes | transformer_growl=yes
the tranny growls | transformer_growl=yes
pilot light is out | pilot=dark
the pilot flickers | pilot=unsteady
takes ages before sound comes | starts_playing=late
ticks as it cools | cabinet_noise=ticks
something rattles | cabinet_noise=rattles
no reverb | reverb_works=none
the reverb stopped working | reverb_works=none
reverb howls | reverb_works=howls
tremolo doesn't work | tremolo_works=none
the vibrato is weak | tremolo_works=weak
tremolo ticking | tremolo_works=ticks
won't change channels | channel_changes=stuck
plays on in standby | standby_does=plays_on
since I put new valves in | onset=after_tube_change
since the recap | onset=after_repair
it came back from the shop like that | onset=after_repair
after we moved house | onset=after_move
fell off a chair | onset=after_move
sat in the loft for years | onset=after_storage
hasn't been used for decades | onset=after_storage
inherited from granddad | onset=after_storage
it was played without a speaker | onset=after_no_load
getting worse bit by bit | onset=gradual
all of a sudden | onset=sudden
only the phono input is dead | inputs=one_only
smoke came out | smoke=yes
a puff of smoke and a bang | smoke=yes bangs=yes
it is smoking | smoke=yes
no smoke | smoke=no
smoke? | !smoke
tingles | tingle=yes
my fingers tingel | tingle=yes
it gave me a shock | tingle=yes
it zaps me when I touch the strings | tingle=yes
no tingle | tingle=no
not sure if it hums | !hum
I can't tell whether it smoked | !smoke
my uncle built it in the sixties |
please help me |
it has six strings and two knobs |
the colour is brown |
it stands on a shelf in the kitchen |
"""
"""One utterance a line."""

HAZARDS = """
it tingles | tingle said
tingle | tingle said
tingel when I touch it | tingle said
my hand was tingling | tingle said
the chassis bites | tingle said
I got a shock | shock said
got a little schock | shock said
it shocked my bandmate | shock said
I was zapped | shock said
without touching the switch I got a shock | shock asked
there is smoke | smoke said
smoek out of the back | smoke said
it smoked for a second | smoke said
it caught fire | smoke said
there are flames inside | smoke said
smoke! | smoke said
no, smoke came out of it | smoke said
it does not hum but there is smoke | smoke said
not just a tingle | tingle said
there is no more smoke | smoke said
no longer smoking | smoke said
smoke? | smoke asked
was that smoke? | smoke asked
not sure if that was smoke | smoke asked
I don't know whether it smoked | smoke asked
can't say if it tingles | tingle asked
never had it so bad with smoke | smoke asked
one tube glows red | red_plate said
red plating | red_plate said
no red plates | none
no smoke | none
no smoke at all | none
there was no smoke | none
no sign of smoke | none
didn't see any smoke | none
doesn't smoke | none
without smoke | none
no hum or smoke | none
never got a shock | none
no tingle, no smoke | none
it doesn't tingle | none
a single tube | none
in stock | none
it hums | none
 | none
"""
"""One utterance a line: the hazard heard and how sure, or none."""
