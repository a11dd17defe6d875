"""landmarks -> track -> signals -> repetitions: numbers, and how sure they are. Nothing here judges."""
