/* SPDX-License-Identifier: Apache-2.0 */
/* What this tree is called, said here alone: the programs, their manual pages and the Debian package take it from this line. */
#ifndef OSIER_DAEMON_VERSION_H
#define OSIER_DAEMON_VERSION_H

#define OSIER_VERSION "0.9.0"

#endif
