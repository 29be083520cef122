"""The trade's ordinary words for a log's columns, two wordings a language where both are common."""

from __future__ import annotations

import unicodedata

from .samples import Key

_SINGLE = (
    ("throttle_fraction", ""),
    ("rudder_fraction", ""),
    ("pack_voltage_v", ""),
    ("current_a", ""),
    ("charge_mah", ""),
    ("altitude_m", ""),
    ("airspeed_mps", ""),
    ("thrust_n", ""),
    ("energy_wh", ""),
    ("power_w", ""),
    ("electrical_speed", ""),
    ("rpm", "centre"),
)
_SIDED = ("throttle_fraction", "current_a", "rpm", "motor_temperature_c", "controller_temperature_c")

_WORDS: dict[str, dict[str, str]] = {
    "en": {
        "single": "throttle|rudder|battery voltage|battery current|capacity used|altitude|airspeed|thrust|"
        "energy used|power|electrical speed|motor speed",
        "sided": "throttle {}|motor current {}|motor speed {}|motor temperature {}|controller temperature {}",
        "cell": "cell {}",
        "sides": "left|right",
        "time": "time|date and time|date|time of day",
    },
    "de": {
        "single": "Gas|Seitenruder|Akkuspannung|Akkustrom|Entnommene Kapazität|Höhe|Fluggeschwindigkeit|"
        "Schub|Energie|Leistung|elektrische Drehzahl|Motordrehzahl",
        "sided": "Gas {}|Motorstrom {}|Drehzahl {}|Motortemperatur {}|Reglertemperatur {}",
        "cell": "Zelle {}",
        "sides": "links|rechts",
        "time": "Zeit|Datum und Uhrzeit|Datum|Uhrzeit",
    },
    "fr": {
        "single": "Gaz|Direction|Tension batterie|Courant batterie|Capacité consommée|Altitude|Vitesse air|"
        "Poussée|Énergie|Puissance|Vitesse électrique|Régime moteur",
        "sided": "Gaz {}|Courant moteur {}|Régime moteur {}|Température moteur {}|Température contrôleur {}",
        "cell": "Élément {}",
        "sides": "gauche|droit",
        "time": "Temps|Date et heure|Date|Heure",
    },
    "es": {
        "single": "Acelerador|Timón de dirección|Tensión de la batería|Corriente de la batería|"
        "Capacidad consumida|Altura|Velocidad del aire|Empuje|Energía|Potencia|Velocidad eléctrica|"
        "Revoluciones del motor",
        "sided": "Acelerador {}|Corriente motor {}|Revoluciones motor {}|Temperatura motor {}|"
        "Temperatura variador {}",
        "cell": "Celda {}",
        "sides": "izquierdo|derecho",
        "time": "Tiempo|Fecha y hora|Fecha|Hora",
    },
    "it": {
        "single": "Gas|Timone|Tensione batteria|Corrente batteria|Capacità consumata|Quota|Velocità aria|"
        "Spinta|Energia|Potenza|Velocità elettrica|Giri motore",
        "sided": "Gas {}|Corrente motore {}|Giri motore {}|Temperatura motore {}|Temperatura regolatore {}",
        "cell": "Cella {}",
        "sides": "sinistro|destro",
        "time": "Tempo|Data e ora|Data|Ora",
    },
    "nl": {
        "single": "Gas|Richtingsroer|Accuspanning|Accustroom|Verbruikte capaciteit|Hoogte|Luchtsnelheid|"
        "Stuwkracht|Energie|Vermogen|Elektrisch toerental|Toerental motor",
        "sided": "Gas {}|Motorstroom {}|Toerental {}|Motortemperatuur {}|Regelaartemperatuur {}",
        "cell": "Cel {}",
        "sides": "links|rechts",
        "time": "Tijd|Datum en tijd|Datum|Tijdstip",
    },
    "cs": {
        "single": "Plyn|Směrovka|Napětí baterie|Proud baterie|Spotřebovaná kapacita|Výška|Vzdušná rychlost|"
        "Tah|Energie|Výkon|Elektrické otáčky|Otáčky motoru",
        "sided": "Plyn {}|Proud motoru {}|Otáčky motoru {}|Teplota motoru {}|Teplota regulátoru {}",
        "cell": "Článek {}",
        "sides": "levý|pravý",
        "time": "Čas|Datum a čas|Datum|Čas dne",
    },
    "pl": {
        "single": "Gaz|Ster kierunku|Napięcie pakietu|Prąd pakietu|Zużyta pojemność|Wysokość|"
        "Prędkość powietrzna|Ciąg|Energia|Moc|Obroty elektryczne|Obroty silnika",
        "sided": "Gaz {}|Prąd silnika {}|Obroty silnika {}|Temperatura silnika {}|Temperatura regulatora {}",
        "cell": "Cela {}",
        "sides": "lewy|prawy",
        "time": "Czas|Data i godzina|Data|Godzina",
    },
    "sv": {
        "single": "Gas|Sidoroder|Batterispänning|Batteriström|Förbrukad kapacitet|Höjd|Flyghastighet|"
        "Dragkraft|Energi|Effekt|Elektriskt varvtal|Motorvarvtal",
        "sided": "Gas {}|Motorström {}|Varvtal {}|Motortemperatur {}|Fartreglagets temperatur {}",
        "cell": "Cell {}",
        "sides": "vänster|höger",
        "time": "Tid|Datum och tid|Datum|Klockslag",
    },
    "pt": {
        "single": "Acelerador|Leme|Tensão da bateria|Corrente da bateria|Capacidade consumida|Altitude|"
        "Velocidade do ar|Empuxo|Energia|Potência|Velocidade elétrica|Rotação do motor",
        "sided": "Acelerador {}|Corrente do motor {}|Rotação do motor {}|Temperatura do motor {}|"
        "Temperatura do controlador {}",
        "cell": "Célula {}",
        "sides": "esquerdo|direito",
        "time": "Tempo|Data e hora|Data|Hora",
    },
}

_ACCENTS = str.maketrans(
    {"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss", "ł": "l", "Ł": "L", "å": "a", "ę": "e", "ą": "a"}
)


def cased(words: str, heads: str) -> str:
    """Headings' words written in another way."""
    if heads == "upper":
        return words.upper()
    if heads == "lower":
        return words.lower()
    if heads == "snake":
        return words.lower().replace(" ", "_")
    if heads == "dots":
        return words.replace(" ", ".")
    if heads == "camel":
        return "".join(word[:1].upper() + word[1:] for word in words.split())
    if heads == "no accents":
        plain = unicodedata.normalize("NFKD", words.translate(_ACCENTS))
        return "".join(c for c in plain if not unicodedata.combining(c))
    return words


def two_rows(heads: list[str]) -> list[list[str]]:
    """Headings in two rows: the first word in the upper one, once over its neighbours, the rest below; a
    short heading stands in the upper row alone.
    """
    upper, lower, last = [], [], ""
    for head in heads:
        words = head.split()
        long = len(words) > 2
        first, rest = (words[0], " ".join(words[1:])) if long else (head, "")
        upper.append("" if first == last and long else first)
        lower.append(rest)
        last = first
    return [upper, lower] if any(lower) else [upper]


LANGUAGES = tuple(_WORDS)


def headings(language: str) -> dict[Key, str]:
    """The words of a language for each column; `("time", …)` for the clock's: elapsed, moment, date,
    clock.
    """
    words = _WORDS[language]
    sides = dict(zip(("left", "right"), words["sides"].split("|"), strict=True))
    single = dict(zip(_SINGLE, words["single"].split("|"), strict=True))
    return {
        **single,
        ("current_a", "into"): single["current_a", ""],
        ("power_w", "into"): single["power_w", ""],
        **{
            (quantity, side): word.format(name)
            for quantity, word in zip(_SIDED, words["sided"].split("|"), strict=True)
            for side, name in sides.items()
        },
        **{("cell_voltage_v", str(n)): words["cell"].format(n) for n in range(1, 15)},
        **{
            ("time", sort): word
            for sort, word in zip(
                ("elapsed", "moment", "date", "clock"), words["time"].split("|"), strict=True
            )
        },
    }
