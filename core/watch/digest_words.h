/* SPDX-License-Identifier: Apache-2.0 */
/* The digest's sentences, the same for text and HTML. Every result is the caller's to g_free. */
#ifndef OSIER_CORE_WATCH_DIGEST_WORDS_H
#define OSIER_CORE_WATCH_DIGEST_WORDS_H

#include "core/watch/digest.h"

/* One line of valid UTF-8 without control characters; "-" for NULL. */
char *digest_words_line(const char *text);

/* "The week from 2 March 2026 to 8 March 2026" */
char *digest_words_heading(const Digest *digest, const Pack *pack);

/* "18 of 28 done, 4 not done, 6 no answer": what is not there is left out. */
char *digest_words_counts(SessionCounts counts, const Pack *pack);

/* "4.2, steady", in the pack's decimals; NULL where there is no number. */
char *digest_words_number(double number, bool has_trend, TrendDirection trend, const Pack *pack);

/* What was told of pain: the most, or -1; the highest number of which nobody knows whether it was the stretch or pain, 0 where
 * there is none; and pain without a number. */
typedef struct {
    double most;
    double bare;
    bool some;
} PainTold;

#define PAIN_UNTOLD ((PainTold){.most = -1})

/* "pain up to 2", "no pain", "8 of 10, stretch or pain", "pain, no number given", or more of them; most is the first in words.
 * "No pain" is said only where nothing is open. NULL where nothing was told. */
char *digest_words_pain(PainTold pain, const char *most, const Pack *pack);

/* "stretch 4.2, steady; pain up to 2", "stretch 4; no pain"; NULL where neither was told. */
char *digest_words_felt(const DigestClient *client, const Pack *pack);

/* "pain 8 of 10, 4 Mar (taken by R. Okafor)" */
char *digest_words_matter(const DigestMatter *matter, const Pack *pack);

/* What the bar is called; NULL where there is none, or an unknown one. */
char *digest_words_bar(const char *bar, const Pack *pack);

/* What stands out about a client: what keeps messages back, alerts, readiness. An array of text that frees them. */
GPtrArray *digest_words_state(const DigestClient *client, const Pack *pack);

/* What is read in one look: how many practised, how many need a call, who is ready to move on. An array
 * of text that frees them. */
GPtrArray *digest_words_first(const Digest *digest, const Pack *pack);

/* The lines on the clinic as a whole, an array of text that frees them. */
GPtrArray *digest_words_clinic(const Digest *digest, const Pack *pack);

#endif
