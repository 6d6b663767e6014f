"""Sentences in every language, their answers, and the workshop for them."""

from homeassistant.components.conversation import async_converse
from homeassistant.core import Context, HomeAssistant
from homeassistant.setup import async_setup_component

from custom_components.gatewright.intent import (
    INTENT_ANYTHING_WRONG,
    INTENT_BIN,
    INTENT_CLEAR_AIR,
    INTENT_COLLECTOR_TIME,
    INTENT_WHO_HAS_AIR,
)

from .workshop import (
    PLANER_GATE,
    SAW_GATE,
    SAW_POWER,
    SWEEP_GATE,
    Workshop,
    gate,
    machine,
    system_entry,
)

NAMES = {
    "en": ("Dust collector", "Saw gate", "Planer gate", "Table saw", "Floor sweep"),
    "de": (
        "Absauger",
        "Sägeschieber",
        "Hobelschieber",
        "Tischkreissäge",
        "Bodenabsaugung",
    ),
    "fr": (
        "Aspirateur",
        "Vanne de la scie",
        "Vanne de la raboteuse",
        "Scie circulaire",
        "Aspiration au sol",
    ),
}


async def open_shop(
    hass: HomeAssistant, workshop: Workshop, language: str, names: str
) -> None:
    """Start a workshop with names in a language, in a Home Assistant that listens."""
    hass.config.language = language
    for component in ("homeassistant", "intent", "conversation"):
        assert await async_setup_component(hass, component, {})
    title, saw_gate, planer_gate, saw, sweep = NAMES[names]
    parts = [
        gate("saw_gate", saw_gate, actuator=SAW_GATE),
        gate("planer_gate", planer_gate, actuator=PLANER_GATE),
        gate("sweep_gate", "3", actuator=SWEEP_GATE),
        machine("saw", saw, gates=["saw_gate"], sensor=SAW_POWER),
        machine("sweep", sweep, kind="floor_sweep", gates=["sweep_gate"]),
    ]
    await workshop.start(system_entry(parts, title=title))


async def say(
    hass: HomeAssistant, text: str, language: str, context: Context | None = None
) -> str:
    """Say something; return the answer's words."""
    result = await async_converse(
        hass, text, None, context or Context(), language=language
    )
    await hass.async_block_till_done()
    return str(result.response.speech["plain"]["speech"])


SAID: dict[str, dict[str, list[str]]] = {
    "en": {
        INTENT_CLEAR_AIR: [
            "clear the air",
            "clean up the dust in the shop",
            "clear the air for ten minutes",
            "clean the air in the workshop for half an hour",
            "clear the air for an hour",
            "collect the dust",
            "extract the dust in the shop for five minutes",
            "vacuum the dust for a quarter of an hour",
        ],
        INTENT_WHO_HAS_AIR: [
            "who has air",
            "what gets air now",
            "which machines have air right now",
            "which machine is getting air in the shop",
            "Who has air in the workshop?",
            "which machine has dust collection",
            "what has suction right now",
            "which machines have extraction",
            "where is dust collection on",
            "where is the suction running now",
            "where is dust being collected in the shop",
        ],
        INTENT_ANYTHING_WRONG: [
            "is anything wrong in the shop",
            "is there something wrong with the dust collector",
            "what's wrong in the workshop",
            "is everything okay with the dust collection",
            "Is all fine in the shop?",
            "is there anything wrong with the dust extractor",
            "is everything okay with the extraction",
        ],
        INTENT_COLLECTOR_TIME: [
            "how long did the collector run today",
            "how long has the dust collector been on today",
            "how much has the collector run today",
            "how long has the collector been running today",
            "How long has the dust collector run today?",
            "how long did the dust extractor run today",
            "how long has the dust collection been on today",
        ],
        INTENT_BIN: [
            "is the bin full",
            "is the dust bin full yet",
            "how full is the dust collector bin",
            "does the bin need emptying",
            "Does the collector bin need to be emptied?",
            "is the dust extractor bin full",
        ],
    },
    "de": {
        INTENT_CLEAR_AIR: [
            "saug die Luft ab",
            "Saug bitte die Luft in der Werkstatt ab!",
            "Sauge mal den Staub für zehn Minuten ab",
            "saug 25 Minuten lang die Luft ab",
            "saug die Werkstattluft eine halbe Stunde lang ab",
            "reinige die Luft in der Werkstatt für eine Viertelstunde",
            "die Luft absaugen",
            "kannst du bitte die Luft in der Werkstatt eine Stunde lang reinigen",
            "Luft absaugen für fünf Minuten",
            "mach mal die Luft sauber",
            "hol den Staub aus der Luft",
            "saug den Staub in der Werkstatt weg",
            "lass die Absaugung eine Dreiviertelstunde lang laufen",
            "lass bitte den Absauger zehn Minuten laufen",
            "schalte die Absaugung für fünf Minuten ein",
            "mach mal die Absauganlage anderthalb Stunden lang an",
        ],
        INTENT_WHO_HAS_AIR: [
            "wer hat Luft",
            "wer bekommt gerade Absaugung",
            "Welche Maschinen haben jetzt Luft in der Werkstatt?",
            "was wird gerade abgesaugt",
            "welche Maschine wird im Moment abgesaugt",
            "an welcher Maschine läuft die Absaugung",
            "wo wird gerade abgesaugt",
            "wo ist die Absaugung an",
            "an welcher Maschine ist gerade die Absaugung aktiv",
        ],
        INTENT_ANYTHING_WRONG: [
            "stimmt in der Werkstatt etwas nicht",
            "ist irgendwas nicht in Ordnung mit dem Absauger",
            "Ist in der Werkstatt alles in Ordnung?",
            "läuft alles rund in der Werkstatt",
            "was ist mit dem Absauger los",
            "was stimmt nicht mit der Absaugung",
            "gibt's ein Problem in der Werkstatt",
            "ist der Absauger in Ordnung",
            "ist die Absaugung okay",
            "gibt es Alarme in der Werkstatt",
        ],
        INTENT_COLLECTOR_TIME: [
            "wie lange lief der Absauger heute",
            "wie lange ist die Absauganlage heute schon gelaufen",
            "Wie lange war heute die Absaugung an?",
            "wie lange läuft der Absauger heute schon",
            "wie viel hat der Späneabsauger heute gearbeitet",
            "wie lange wurde heute in der Werkstatt abgesaugt",
        ],
        INTENT_BIN: [
            "ist der Behälter voll",
            "Ist der Spänebehälter schon voll?",
            "wie voll ist der Spänesack",
            "muss der Behälter bald geleert werden",
            "muss ich den Spänebehälter leeren",
            "soll ich die Spänetonne jetzt ausleeren",
            "ist der Absauger voll",
            "muss ich den Absaugsack wechseln",
        ],
    },
    "fr": {
        INTENT_CLEAR_AIR: [
            "aspire l'air",
            "Aspirez la poussière dans l’atelier, s'il vous plaît",
            "aspirer l'air pendant dix minutes",
            "peux-tu aspirer l'air de l'atelier pendant une demi-heure",
            "pouvez-vous purifier l'air pendant un quart d'heure",
            "assainis l'air de l'atelier",
            "nettoie l'air durant 25 minutes dans l'atelier s'il te plaît",
            "enlève la poussière de l'air",
            "dépoussière l'atelier pendant une heure",
            "aspire les copeaux dans l'atelier",
        ],
        INTENT_WHO_HAS_AIR: [
            "qui a de l'air",
            "quelle machine reçoit de l'air en ce moment",
            "Quelles machines ont l'aspiration ?",
            "qu'est-ce qui est aspiré maintenant",
            "sur quelle machine l'aspiration est-elle en marche",
            "où est-ce que l'aspiration fonctionne",
            "où l'aspiration est-elle active",
            "sur quelle machine l'aspiration est active",
        ],
        INTENT_ANYTHING_WRONG: [
            "est-ce que tout va bien dans l'atelier",
            "Tout va bien à l'atelier ?",
            "y a-t-il un problème dans l'atelier",
            "il y a un problème avec l'aspirateur",
            "qu'est-ce qui ne va pas avec l'aspiration",
            "est-ce que quelque chose va pas dans l'atelier",
            "que se passe-t-il dans l'atelier",
            "y a-t-il un problème avec le dépoussiéreur",
            "il y a un souci avec l'aspi",
        ],
        INTENT_COLLECTOR_TIME: [
            "combien de temps l'aspirateur a-t-il tourné aujourd'hui",
            "pendant combien de temps a tourné l'aspirateur aujourd'hui",
            "Combien d'heures est-ce que l'aspiration a fonctionné aujourd'hui ?",
            "l'aspirateur a tourné combien de temps aujourd’hui",
            "combien de temps l'aspiration de l'atelier a-t-elle marché aujourd'hui",
            "combien de temps le dépoussiéreur a-t-il tourné aujourd'hui",
            "combien de temps a tourné le dépoussiéreur aujourd'hui",
            "combien de temps l'aspirateur à copeaux a-t-il tourné aujourd'hui",
        ],
        INTENT_BIN: [
            "est-ce que le bac est plein",
            "Le bac à copeaux est-il déjà plein ?",
            "à quel point le bac est rempli",
            "quel est le niveau du bac à sciure",
            "faut-il vider le bac de l'aspirateur",
            "dois-je bientôt changer le sac à poussière",
            "le bac doit-il être vidé",
            "est-ce que le bac du dépoussiéreur est plein",
        ],
    },
}

ANSWERS = {
    "en": {
        INTENT_CLEAR_AIR: r"Collecting at Floor sweep for .+\.",
        INTENT_WHO_HAS_AIR: r"No dust collection right now\.",
        INTENT_ANYTHING_WRONG: r"Everything is fine\.",
        INTENT_COLLECTOR_TIME: r"The collector hasn't run today\.",
        INTENT_BIN: r"I don't know how full the bin is\.",
    },
    "de": {
        INTENT_CLEAR_AIR: r"Es wird .+ lang über Bodenabsaugung abgesaugt\.",
        INTENT_WHO_HAS_AIR: r"Gerade wird nirgends abgesaugt\.",
        INTENT_ANYTHING_WRONG: r"Alles in Ordnung\.",
        INTENT_COLLECTOR_TIME: r"Der Absauger lief heute nicht\.",
        INTENT_BIN: r"Wie voll der Behälter ist, weiß ich nicht\.",
    },
    "fr": {
        INTENT_CLEAR_AIR: r"Aspiration par Aspiration au sol pendant .+\.",
        INTENT_WHO_HAS_AIR: r"Aucune aspiration en ce moment\.",
        INTENT_ANYTHING_WRONG: r"Tout va bien\.",
        INTENT_COLLECTOR_TIME: r"Le dépoussiéreur n'a pas tourné aujourd'hui\.",
        INTENT_BIN: r"Je ne connais pas le niveau du bac\.",
    },
}
