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
    "en other words": {
        "single": "Throttle position|Rudder|Supply voltage|Total current|Consumed charge|Height above ground|"
        "Air speed|Pull|Energy|Total power|eRPM|RPM",
        "sided": "Throttle {}|Amps {}|RPM {}|Motor temp {}|ESC temp {}",
        "cell": "Cell {} voltage",
        "sides": "port|starboard",
        "time": "Elapsed time|Timestamp|Day|Clock",
    },
    "de other words": {
        "single": "Gasstellung|Seite|Spannung Akku|Strom gesamt|Verbrauch|Flughöhe|Fahrt|Standschub|"
        "Energie entnommen|Leistung gesamt|Felddrehzahl|Drehzahl",
        "sided": "Gasstellung {}|Strom Motor {}|Drehzahl Motor {}|Temperatur Motor {}|Temperatur Regler {}",
        "cell": "Spannung Zelle {}",
        "sides": "links|rechts",
        "time": "Laufzeit|Zeitpunkt|Tag|Zeit",
    },
    "fr other words": {
        "single": "Manche des gaz|Dérive|Tension pack|Intensité totale|Charge consommée|Hauteur|"
        "Vitesse anémométrique|Traction|Énergie consommée|Puissance totale|Régime électrique|"
        "Tours moteur",
        "sided": "Gaz {}|Intensité moteur {}|Tours moteur {}|Temp. moteur {}|Temp. variateur {}",
        "cell": "Tension élément {}",
        "sides": "gauche|droite",
        "time": "Temps écoulé|Horodatage|Jour|Heure",
    },
    "es other words": {
        "single": "Gas|Timón|Voltaje batería|Intensidad total|Carga consumida|Altitud|Velocidad aérea|"
        "Tracción|Energía consumida|Potencia total|Revoluciones eléctricas|Giro del motor",
        "sided": "Gas {}|Intensidad motor {}|Giro motor {}|Temp. motor {}|Temp. controlador {}",
        "cell": "Voltaje celda {}",
        "sides": "izq.|der.",
        "time": "Tiempo transcurrido|Marca de tiempo|Fecha|Hora",
    },
    "it other words": {
        "single": "Manetta|Direzionale|Voltaggio pacco|Assorbimento totale|Carica consumata|Altezza|"
        "Velocità anemometrica|Trazione|Energia consumata|Potenza totale|Giri elettrici|"
        "Numero di giri",
        "sided": "Manetta {}|Assorbimento motore {}|Numero di giri motore {}|Temp. motore {}|"
        "Temp. variatore {}",
        "cell": "Tensione elemento {}",
        "sides": "sx|dx",
        "time": "Tempo trascorso|Marca temporale|Data|Orario",
    },
    "nl other words": {
        "single": "Gashendel|Richtingroer|Spanning accu|Stroom totaal|Verbruik|Vlieghoogte|Vliegsnelheid|"
        "Trekkracht|Energie verbruikt|Vermogen totaal|Elektrische toeren|Toeren motor",
        "sided": "Gashendel {}|Stroom motor {}|Toeren motor {}|Temp. motor {}|Temp. regelaar {}",
        "cell": "Spanning cel {}",
        "sides": "links|rechts",
        "time": "Verstreken tijd|Tijdstempel|Datum|Tijd",
    },
    "cs other words": {
        "single": "Páka plynu|Směrové kormidlo|Napětí akumulátoru|Celkový proud|Odebraná kapacita|Výška letu|"
        "Rychlost letu|Tah vrtule|Energie|Příkon|Elektrické otáčky|Otáčky",
        "sided": "Plyn {}|Odběr {} motoru|Otáčky {} motoru|Teplota {} motoru|Teplota {} regulátoru",
        "cell": "Napětí článku {}",
        "sides": "levého|pravého",
        "time": "Doba|Časová značka|Den|Čas",
    },
    "pl other words": {
        "single": "Przepustnica|Ster kierunku|Napięcie akumulatora|Prąd całkowity|Pobrany ładunek|"
        "Wysokość lotu|Prędkość lotu|Ciąg śmigła|Energia|Moc całkowita|Obroty elektryczne|Obroty",
        "sided": "Gaz {}|Natężenie prądu silnika {}|Obroty silnika {}|Temp. silnika {}|Temp. regulatora {}",
        "cell": "Napięcie ogniwa {}",
        "sides": "lewego|prawego",
        "time": "Czas lotu|Znacznik czasu|Dzień|Czas",
    },
    "sv other words": {
        "single": "Gaspådrag|Sidroder|Spänning batteri|Ström totalt|Uttagen laddning|Flyghöjd|"
        "Fart genom luft|Dragkraft|Energi|Effekt totalt|Elektriskt varvtal|Varvtal motor",
        "sided": "Gaspådrag {}|Ström motor {}|Varvtal motor {}|Temp motor {}|Temp regulator {}",
        "cell": "Spänning cell {}",
        "sides": "vänster|höger",
        "time": "Förfluten tid|Tidsstämpel|Datum|Tid",
    },
    "pt other words": {
        "single": "Manete|Leme de direção|Voltagem do pack|Corrente total|Carga consumida|Altura|"
        "Velocidade aérea|Tração|Energia consumida|Potência total|Rotação elétrica|"
        "Rotações do motor",
        "sided": "Manete {}|Corrente motor {}|Rotações motor {}|Temp. motor {}|Temp. variador {}",
        "cell": "Tensão célula {}",
        "sides": "esq.|dir.",
        "time": "Tempo decorrido|Carimbo de tempo|Data|Hora",
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
