/* SPDX-License-Identifier: Apache-2.0 */
/* Any bytes as the lines that a gateway's program writes: what docs/program-gateway.md promises of each holds. */
#include <string.h>

#include "adapters/program/program.h"
#include "adapters/program/talk.h"
#include "tests/fuzz/mapped.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void check_words(const char *words)
{
    g_assert(words == NULL || g_utf8_validate(words, -1, NULL));
    g_assert(words == NULL || strpbrk(words, "\r\n") == NULL);
}

static void check_fate(const Talk *talk)
{
    const Settlement *settlement = &talk->settlement;

    g_assert(talk->id != NULL);
    g_assert(settlement->fate == FATE_ACCEPTED || settlement->fate == FATE_REFUSED ||
             settlement->fate == FATE_WAITING || settlement->fate == FATE_UNSURE);
    g_assert(settlement->retry_after_s >= -1 && settlement->retry_after_s <= 86400);
    check_words(settlement->reason);
}

static void read_line(const char *line, size_t length)
{
    g_auto(Talk) talk = {0};

    talk_read(line, length, &talk);
    g_assert(talk.type != TALK_BROKEN || talk.words != NULL);
    g_assert((talk.incoming != NULL) == (talk.type == TALK_INCOMING));
    g_assert((talk.receipt != NULL) == (talk.type == TALK_RECEIPT));
    check_words(talk.words);
    if (talk.type == TALK_FATE) check_fate(&talk);
    if (talk.receipt != NULL)
        g_assert(talk.receipt->fate == FATE_DELIVERED || talk.receipt->fate == FATE_FAILED);
    if (talk.incoming == NULL) return;
    g_assert(talk.id != NULL);
    mapped_check(talk.incoming);
    /* Its id comes back as it was given: one line of JSON. */
    g_autofree char *taken = talk_taken(talk.id);
    g_assert(strchr(taken, '\n') == NULL);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const uint8_t *start = data;

    for (char *line; (line = mapped_line(&data, &size)) != NULL; start = data) {
        size_t length = (size_t)(data - start) - 1;
        if (length <= PROGRAM_LINE_MAX) read_line(line, length);
        g_free(line);
    }
    g_autofree char *rest = g_strndup((const char *)data, size);
    if (size <= PROGRAM_LINE_MAX) read_line(rest, size);
    return 0;
}
