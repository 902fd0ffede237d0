"""AMEn of single feeds for poultry: NRC Nutrient Requirements of Poultry 1994, Appendix B, Table B-1.

The table prints components as percent of the ingredient; here they are percent of dry matter and the result is kcal/kg
DM, because the forms with an intercept make sense only so. NFE = 100 - CP - EE - CF - ash. Rows marked `memory` were
not legible on the page. Each equation is valid for the feed it names; the ranges are those of that feed in feed tables.
"""

from __future__ import annotations

from collections.abc import Callable

from rationlp.library.equations.published import P, published

_MEMORY = "memory:NRC 1994 Nutrient Requirements of Poultry, Table B-1"


def _table_b1(feed: str, how: str, **valid: tuple[float, float]) -> Callable[[Callable[P, float]], Callable[P, float]]:
    source = "nrc1994_appB" if how == "page" else _MEMORY
    return published(
        "B-1",
        gives="amen_poultry",
        scope=feed,
        source=source,
        how=how,
        valid=valid,
        range_from="the feed in feed tables",
    )


@_table_b1("maize grain", "page", crude_protein=(7, 13), ether_extract=(2.5, 9), nfe=(72, 87))
def amen_corn(crude_protein: float, ether_extract: float, nfe: float) -> float:
    """AMEn [kcal/kg DM] = 36.21 CP + 85.44 EE + 37.26 NFE, % of dry matter. Maize grain; Table B-1 (1989)."""
    return 36.21 * crude_protein + 85.44 * ether_extract + 37.26 * nfe


@_table_b1("sorghum, tannin under 0.4 %", "page", crude_protein=(7, 16), ether_extract=(1.5, 5), nfe=(72, 87))
def amen_sorghum_low_tannin(crude_protein: float, ether_extract: float, nfe: float) -> float:
    """AMEn [kcal/kg DM] = 31.02 CP + 77.03 EE + 37.67 NFE, % of dry matter. Tannin under 0.4 %; Table B-1 (1989)."""
    return 31.02 * crude_protein + 77.03 * ether_extract + 37.67 * nfe


@_table_b1("sorghum, tannin over 1.0 %", "page", crude_protein=(7, 16), ether_extract=(1.5, 5), nfe=(72, 87))
def amen_sorghum_high_tannin(crude_protein: float, ether_extract: float, nfe: float) -> float:
    """AMEn [kcal/kg DM] = 21.98 CP + 54.75 EE + 35.18 NFE, % of dry matter. Tannin over 1.0 %; Table B-1 (1989)."""
    return 21.98 * crude_protein + 54.75 * ether_extract + 35.18 * nfe


@_table_b1("triticale", "page", crude_protein=(9, 20), ether_extract=(1, 3), nfe=(70, 86))
def amen_triticale(crude_protein: float, ether_extract: float, nfe: float) -> float:
    """AMEn [kcal/kg DM] = 34.49 CP + 62.16 EE + 35.61 NFE, % of dry matter. Triticale; Table B-1 (1989)."""
    return 34.49 * crude_protein + 62.16 * ether_extract + 35.61 * nfe


@_table_b1("wheat", "page", crude_protein=(9, 20), ether_extract=(1, 3.5), nfe=(70, 86))
def amen_wheat(crude_protein: float, ether_extract: float, nfe: float) -> float:
    """AMEn [kcal/kg DM] = 34.92 CP + 63.1 EE + 36.42 NFE, % of dry matter. Wheat; Table B-1 (1989)."""
    return 34.92 * crude_protein + 63.1 * ether_extract + 36.42 * nfe


@_table_b1("wheat and wheat products, meal", "page", crude_fibre=(1.5, 12))
def amen_wheat_fibre(crude_fibre: float) -> float:
    """AMEn [kcal/kg DM] = 3985 - 205 CF, % of dry matter. Wheat and wheat products as meal; Table B-1 (1979)."""
    return 3985 - 205 * crude_fibre


@_table_b1("wheat middlings, bran", "page", crude_fibre=(3, 15), ash=(2, 8))
def amen_wheat_offal(ash: float, crude_fibre: float) -> float:
    """AMEn [kcal/kg DM] = 40.1 (100 - ash) - 165.39 CF, % of dry matter. Wheat middlings, bran; Table B-1 (1989)."""
    return 40.1 * (100 - ash) - 165.39 * crude_fibre


@_table_b1("barley and barley products", "page", crude_fibre=(1.5, 12), starch=(45, 68))
def amen_barley(crude_fibre: float, starch: float) -> float:
    """AMEn [kcal/kg DM] = 3078 - 90.4 CF + 9.2 starch, % of dry matter. Barley and its products; Table B-1 (1979)."""
    return 3078 - 90.4 * crude_fibre + 9.2 * starch


@_table_b1("oats", "memory", crude_fibre=(1, 18), ether_extract=(3, 11))
def amen_oats(crude_fibre: float, ether_extract: float) -> float:
    """AMEn [kcal/kg DM] = 2970 - 59.7 CF + 116.9 EE, % of dry matter. Oats; Table B-1 (1979), from memory."""
    return 2970 - 59.7 * crude_fibre + 116.9 * ether_extract


@_table_b1("rice polishings", "page", crude_fibre=(3, 15), ash=(5, 14), ether_extract=(8, 22))
def amen_rice_polishings(ash: float, crude_protein: float, ether_extract: float, crude_fibre: float) -> float:
    """AMEn [kcal/kg DM] = 46.7 (100 - ash) - 69.55 CP + 42.95 EE - 81.95 CF, % of dry matter. Table B-1 (1989)."""
    return 46.7 * (100 - ash) - 69.55 * crude_protein + 42.95 * ether_extract - 81.95 * crude_fibre


@_table_b1("rice bran, extracted", "page", crude_fibre=(5, 18), ash=(6, 16), ether_extract=(0, 4))
def amen_rice_bran_extracted(ash: float, crude_protein: float, ether_extract: float, crude_fibre: float) -> float:
    """AMEn [kcal/kg DM] = 46.7 (100 - ash) - 69.54 CP + 42.94 EE - 81.95 CF, % of dry matter. Table B-1 (1989)."""
    return 46.7 * (100 - ash) - 69.54 * crude_protein + 42.94 * ether_extract - 81.95 * crude_fibre


@_table_b1("rice products", "page", crude_protein=(6, 18), crude_fibre=(0, 15), ether_extract=(0, 20))
def amen_rice_products(crude_protein: float, crude_fibre: float, ether_extract: float) -> float:
    """AMEn [kcal/kg DM] = 4759 - 88.6 CP - 127.7 CF + 52.1 EE, % of dry matter. Rice products; Table B-1 (1979)."""
    return 4759 - 88.6 * crude_protein - 127.7 * crude_fibre + 52.1 * ether_extract


@_table_b1("bakery by-product", "page", crude_protein=(6, 18), ether_extract=(2, 20))
def amen_bakery(crude_protein: float, ether_extract: float, nfe: float) -> float:
    """AMEn [kcal/kg DM] = 34.49 CP + 76.1 EE + 37.67 NFE, % of dry matter. Bakery by-product; Table B-1 (1989)."""
    return 34.49 * crude_protein + 76.1 * ether_extract + 37.67 * nfe


@_table_b1("maize distillers grains with solubles", "memory", crude_protein=(24, 35), crude_fibre=(5, 13), ash=(3, 8))
def amen_distillers_grains(ash: float, crude_protein: float, crude_fibre: float) -> float:
    """AMEn [kcal/kg DM] = 39.15 (100 - ash) - 9.72 CP - 63.81 CF, % of dry matter. Table B-1 (1989), from memory."""
    return 39.15 * (100 - ash) - 9.72 * crude_protein - 63.81 * crude_fibre


@_table_b1("soybean meal", "memory", crude_fibre=(2, 10), ether_extract=(0, 10))
def amen_soybean_meal_fibre(crude_fibre: float, ether_extract: float) -> float:
    """AMEn [kcal/kg DM] = 2702 - 57.4 CF + 72.0 EE, % of dry matter. Soybean meal; Table B-1 (1979), from memory."""
    return 2702 - 57.4 * crude_fibre + 72.0 * ether_extract


@_table_b1("soybean meal", "memory", crude_protein=(42, 60), ether_extract=(0, 10))
def amen_soybean_meal(crude_protein: float, ether_extract: float, nfe: float) -> float:
    """AMEn [kcal/kg DM] = 37.5 CP + 46.39 EE + 14.9 NFE, % of dry matter. Table B-1 (1989), from memory."""
    return 37.5 * crude_protein + 46.39 * ether_extract + 14.9 * nfe


@_table_b1("soybeans, heated", "memory", crude_protein=(33, 46), ether_extract=(14, 25))
def amen_soybeans_heated(crude_protein: float, ether_extract: float, nfe: float) -> float:
    """AMEn [kcal/kg DM] = 36.63 CP + 77.96 EE + 19.87 NFE, % of DM. Table B-1 (1989), memory, low confidence."""
    return 36.63 * crude_protein + 77.96 * ether_extract + 19.87 * nfe


@_table_b1("rapeseed meal, high glucosinolate", "memory", crude_protein=(33, 46), ether_extract=(0, 14))
def amen_rapeseed_meal_old(crude_protein: float, ether_extract: float, nfe: float) -> float:
    """AMEn [kcal/kg DM] = 29.73 CP + 46.39 EE + 7.87 NFE, % of dry matter. Table B-1 (1989), from memory."""
    return 29.73 * crude_protein + 46.39 * ether_extract + 7.87 * nfe


@_table_b1("rapeseed and canola meal, double zero", "memory", crude_protein=(33, 46), ether_extract=(0, 14))
def amen_canola_meal(crude_protein: float, ether_extract: float, nfe: float) -> float:
    """AMEn [kcal/kg DM] = 32.76 CP + 64.96 EE + 13.24 NFE, % of dry matter. Table B-1 (1989), from memory."""
    return 32.76 * crude_protein + 64.96 * ether_extract + 13.24 * nfe


@_table_b1("sunflower meal, extracted", "memory", crude_protein=(28, 50), ether_extract=(0, 4), ash=(5, 10))
def amen_sunflower_meal(ash: float, crude_protein: float, ether_extract: float) -> float:
    """AMEn [kcal/kg DM] = 6.28 (100 - ash) + 25.38 CP + 62.64 EE, % of dry matter. Table B-1 (1989), from memory."""
    return 6.28 * (100 - ash) + 25.38 * crude_protein + 62.64 * ether_extract


@_table_b1("sunflower meal, expeller", "memory", crude_fibre=(8, 32), ether_extract=(4, 20))
def amen_sunflower_expeller(ether_extract: float, crude_fibre: float) -> float:
    """AMEn [kcal/kg DM] = 2670 + 77.2 EE - 51.22 CF, % of dry matter. Table B-1 (1989), memory, low confidence."""
    return 26.7 * 100 + 77.2 * ether_extract - 51.22 * crude_fibre


@_table_b1("fish meal", "memory", ash=(10, 27), ether_extract=(3, 15))
def amen_fish_meal(ash: float, ether_extract: float) -> float:
    """AMEn [kcal/kg DM] = 3587 - 34.08 ash + 42.09 EE, % of dry matter. Fish meal; Table B-1 (1989), from memory."""
    return 35.87 * 100 - 34.08 * ash + 42.09 * ether_extract


@_table_b1("meat and bone meal", "memory", ash=(20, 42), ether_extract=(5, 18))
def amen_meat_and_bone_meal(ash: float, ether_extract: float) -> float:
    """AMEn [kcal/kg DM] = 3394 - 45.77 ash + 59.99 EE, % of dry matter. Table B-1 (1989), from memory."""
    return 33.94 * 100 - 45.77 * ash + 59.99 * ether_extract
