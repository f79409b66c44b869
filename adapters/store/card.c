/* SPDX-License-Identifier: Apache-2.0 */
/* A card's text is a row of netstrings (length, colon, bytes, comma): the mark of a bar, the number of settings, then field and
 * value of each, then channel, address and consent of each contact. An empty value stands for none: a JSON text is never empty. */
#include "adapters/store/card.h"

#include <string.h>

#include "adapters/store/engine.h"

static void add(GString *text, const char *piece)
{
    const char *bytes = piece != NULL ? piece : "";

    g_string_append_printf(text, "%zu:%s,", strlen(bytes), bytes);
}

/* What is left of a card's text. */
typedef struct {
    char *at, *end;
} Rest;

/* The next piece; NULL after the last, and where what follows is no netstring: then the rest is not empty. */
static char *next(Rest *rest, size_t *length)
{
    char *at = rest->at;

    *length = 0;
    for (int digits = 0; digits < 9 && g_ascii_isdigit(*at); digits++)
        *length = *length * 10 + (size_t)(*at++ - '0');
    if (at == rest->at || *at != ':' || *length + 2 > (size_t)(rest->end - at)) return NULL;
    char *piece = at + 1;
    if (piece[*length] != ',') return NULL;
    rest->at = piece + *length + 1;
    return piece;
}

/* The same as a text: its comma becomes its end. */
static const char *take(Rest *rest)
{
    size_t length;
    char *piece = next(rest, &length);

    if (piece != NULL) piece[length] = '\0';
    return piece;
}

static Rest rest_of(char *text)
{
    return (Rest){text, text + strlen(text)};
}

/* Nothing is lent of one that is not whole. */
static bool is_whole(char *text)
{
    Rest rest = rest_of(text);
    size_t length;
    int pieces = 0;

    while (next(&rest, &length) != NULL)
        pieces++;
    return pieces >= 2 && rest.at == rest.end;
}

static const char *or_none(const char *piece)
{
    return *piece != '\0' ? piece : NULL;
}

/* Of one that is whole. The number of settings. */
static int lend(char *text, const CardReader *reader, bool *barred)
{
    Rest rest = rest_of(text);
    const char *first, *second, *third;

    *barred = *take(&rest) != '\0';
    int settings = (int)g_ascii_strtoll(take(&rest), NULL, 10);
    for (int i = 0; i < settings; i++) {
        first = take(&rest);
        second = take(&rest);
        if (second == NULL) return i;
        reader->setting(first, or_none(second), reader->context);
    }
    while ((first = take(&rest)) != NULL) {
        second = take(&rest);
        third = take(&rest);
        if (third == NULL) break;
        reader->contact(first, or_none(second), *third != '\0', reader->context);
    }
    return settings;
}

static void add_setting(const char *field, const char *value, void *context)
{
    add(context, field);
    add(context, value);
}

/* NULL where nothing is known of the client. */
static char *write_card(Tx *tx, const char *client)
{
    g_autoptr(GString) settings = g_string_new(NULL);
    g_autoptr(GPtrArray) contacts = find_contacts(tx, client);
    g_autoptr(GPtrArray) bars = find_bars(tx, client);
    int n = find_setting_values(tx, client, add_setting, settings);
    GString *text = g_string_new(NULL);
    g_autofree char *count = g_strdup_printf("%d", n);

    add(text, bars->len > 0 ? "barred" : "");
    add(text, count);
    g_string_append_len(text, settings->str, (gssize)settings->len);
    for (guint i = 0; i < contacts->len; i++) {
        const Row *row = contacts->pdata[i];
        add(text, row_text(row, CONTACT_CHANNEL));
        add(text, row_text(row, CONTACT_ADDRESS));
        add(text, row_is_null(row, CONTACT_CONSENT) ? "" : "yes");
    }
    return g_string_free(text, n == 0);
}

static void keep(Tx *tx, const char *client, const char *text)
{
    g_autoptr(Row) card = row_new(TABLE_CARD);

    row_set_text(card, CARD_CLIENT, client);
    row_set_text(card, CARD_TEXT, text);
    tx_put(tx, card);
    g_clear_pointer(&tx->torn, g_free);
}

static char *read_card(Tx *tx, const char *client)
{
    g_autoptr(Row) card = tx_get_text(tx, TABLE_CARD, client);

    return card != NULL ? g_strdup(row_text(card, CARD_TEXT)) : NULL;
}

int card_read(Tx *tx, const char *client, const CardReader *reader, bool *barred)
{
    g_autofree char *text = read_card(tx, client);

    *barred = false;
    if (text == NULL || !is_whole(text)) {
        g_free(text);
        text = write_card(tx, client);
        if (text != NULL) keep(tx, client, text);
    }
    return text != NULL ? lend(text, reader, barred) : 0;
}

/* An event may put many rows of one client: the card goes with the first. */
void card_tear_up(Tx *tx, const char *client)
{
    if (g_strcmp0(tx->torn, client) == 0) return;
    g_autoptr(Row) key = row_new(TABLE_CARD);
    row_set_text(key, CARD_CLIENT, client);
    tx_delete(tx, key);
    g_free(tx->torn);
    tx->torn = g_strdup(client);
}
